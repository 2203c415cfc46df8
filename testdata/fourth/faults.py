"""Draws faults of the catalogue: what the truth says of one in plain keys, what only the maker needs under '_'.

Severities run from what nobody would miss to what a repairer has to look for; common practice, no source.
"""
import numpy as np

from machine import SHIFTS

CLASSES = {
    "ram-bit": "data-bit-stuck data-bit-weak address-line-stuck row-dead column-dead refresh-loss supply-or-all-lanes".split(),
    "video-logic": "colour-path border-latch cell-fetch line-counter cell-snow shift-register blank-picture flash-dead "
                   "character-generator".split(),
    "signal": "no-signal sync-weak noise hum ringing low-bandwidth ghost fixed-bars colour-lost hue-shift level-high level-low "
              "clipping interference".split(),
    "cpu-side": ["power-up-pattern"],
}
CLASS_OF = {kind: name for name, kinds in CLASSES.items() for kind in kinds}
KINDS = list(CLASS_OF)
LONG = {"flash-dead": 20, "refresh-loss": 30, "hum": 16, "supply-or-all-lanes": 16}  # frames; others 12
ATTR_ONLY, TEXT_ONLY = {"flash-dead"}, {"character-generator"}


def pick(rng, *choices):
    return choices[int(rng.integers(len(choices)))]


def between(rng, low, high):
    """A strength, even on a logarithmic scale."""
    return float(low * (high / low) ** rng.random())


def draw(kind, d, s, rng):
    """One fault of a kind for a machine that shows screen s."""
    f = {"class": CLASS_OF[kind], "kind": kind, "_": {}}
    build = globals().get("_" + kind.replace("-", "_"))
    if build:
        build(f, f["_"], d, s, rng)
    return f


def _where(f, d, rng, share=0.25):
    """On text displays, one fault in four sits in the colour RAM; gives the lanes and address lines there are."""
    f["memory"] = "screen"
    if not d.attr and rng.random() < share:
        f["memory"] = "colour"
    return 4 if f["memory"] == "colour" else 8


def _data_bit_stuck(f, p, d, s, rng):
    f["bit"] = int(rng.integers(_where(f, d, rng)))
    f["level"] = int(rng.integers(2))


def _data_bit_weak(f, p, d, s, rng):
    f["bit"] = int(rng.integers(_where(f, d, rng)))
    p["mode"] = pick(rng, "addresses", "time")
    p["to"] = int(rng.integers(2))
    if p["mode"] == "addresses":
        rate = between(rng, 0.03, 0.6)
        p["map"] = np.random.default_rng(int(rng.integers(1 << 30))).random(16384) < rate
    else:
        rate = between(rng, 0.005, 0.3)
        p["to"] = int(rng.integers(3))
        p["phase"] = float(rng.uniform(0, 6))
    p["rate"] = rate
    f["made"] = {"mode": p["mode"], "rate": round(rate, 4)}


def _address_line_stuck(f, p, d, s, rng):
    lanes = _where(f, d, rng, 0.15)
    f["level"] = int(rng.integers(2))
    if d.attr:
        line = int(rng.integers(13))
        pair = rng.random() < 0.35
        k = int(rng.integers(6))
        f["lines"] = [k, k + 7] if pair else [line]
    else:
        pair = f["memory"] == "screen" and rng.random() < 0.25
        k = int(rng.integers(3))
        f["lines"] = [k, k + 7] if pair else [int(rng.integers(10))]
    f["line"] = f["lines"][0]
    f["lanes"] = [int(rng.integers(lanes))] if rng.random() < 0.55 else list(range(lanes))


def _dead(f, p, d, rng):
    r = np.random.default_rng(int(rng.integers(1 << 30)))
    how = pick(rng, "0", "1", "either")
    p["map"] = r.integers(0, 2, 16384).astype(np.uint8) if how == "either" else np.full(16384, int(how), np.uint8)
    f["bit"] = int(rng.integers(8))
    f["made"] = {"reads": how}


def _row_dead(f, p, d, s, rng):
    _dead(f, p, d, rng)
    f["row"] = int(rng.integers(128))


def _column_dead(f, p, d, s, rng):
    _dead(f, p, d, rng)
    f["column"] = int(rng.integers(54 if d.attr else 8))


def _refresh_loss(f, p, d, s, rng):
    """Rows let go one after another, cells of a row around its time, to the level the halves of the chip lie at."""
    f["lanes"] = sorted(int(b) for b in rng.choice(8, pick(rng, 1, 1, 1, 2, 3, 8), replace=False))
    a = np.arange(16384)
    fields = 2 * LONG["refresh-loss"]
    p["due"], p["ground"] = {}, {}
    share = between(rng, 0.15, 1.0)
    for b in f["lanes"]:
        row = rng.uniform(-4, fields, 128)
        row[rng.random(128) > share] = 1e6
        p["due"][b] = (row[a & 127] + rng.exponential(rng.uniform(1, 6), 16384)).astype(np.float32)
        halves = rng.random() < 0.5
        p["ground"][b] = (a >> int(rng.integers(6, 12)) & 1).astype(np.uint8) if halves else np.full(16384, rng.integers(2), np.uint8)
    f["made"] = {"rows": round(share, 2)}


def _supply_or_all_lanes(f, p, d, s, rng):
    f["lanes"] = sorted(int(b) for b in rng.choice(8, pick(rng, 6, 7, 8, 8), replace=False))
    p["rate"], p["phase"] = between(rng, 0.08, 0.6), float(rng.uniform(0, 6))
    p["weak"] = {b: rng.random(16384).astype(np.float32) for b in f["lanes"]}
    p["to"] = {b: int(rng.integers(2)) for b in f["lanes"]}
    f["made"] = {"rate": round(p["rate"], 3)}


def _colour_path(f, p, d, s, rng):
    if d.attr:
        f["component"], f["level"] = pick(rng, "green", "red", "blue"), int(rng.random() < 0.35)
        return
    f["component"] = pick(rng, "luma", "cb", "cr")
    f["level"] = 0 if f["component"] != "luma" else int(rng.random() < 0.3)
    p["value"] = 0.0 if f["component"] != "luma" or not f["level"] else 0.9


def _border_latch(f, p, d, s, rng):
    f["expected"] = s.border
    far = [k for k in range(8 if d.attr else 16) if np.abs(d.lut[k] - d.lut[s.border]).max() > 0.08]
    f["seen"] = int(pick(rng, *far))


def _cell_fetch(f, p, d, s, rng):
    cols = d.width // 8
    f["columns"] = pick(rng, "odd", "even", f"after {int(rng.integers(3, cols - 4))}", "colour-shift")
    p["by"] = pick(rng, -1, 1)
    p["gives"] = pick(rng, "byte", "byte", "byte", "left", "right") if f["columns"] in ("odd", "even") else pick(rng, "byte", "held", "left")
    p["byte"] = pick(rng, 0xFF, 0x00, int(rng.integers(256)))
    p["flicker"] = float(rng.uniform(0.3, 0.9)) if rng.random() < 0.4 else 0.0
    f["made"] = {"gives": p["gives"], "flicker": round(p["flicker"], 2)}
    if f["columns"] == "colour-shift":
        p["flicker"], f["made"] = 0.0, {"by": p["by"]}


def _line_counter(f, p, d, s, rng):
    f["counter_bit"], f["level"] = int(rng.integers(8)), int(rng.random() < 0.4)


def _cell_snow(f, p, d, s, rng):
    p["count"] = between(rng, 2, 90)
    p["to"] = pick(rng, -1, -1, 0xFF, 0)
    f["made"] = {"bytes_a_field": round(p["count"], 1)}


def _shift_register(f, p, d, s, rng):
    p["how"] = pick(rng, *SHIFTS)
    f["made"] = {"how": p["how"]}


def _blank_picture(f, p, d, s, rng):
    p["as"] = pick(rng, "border", 0)
    f["made"] = {"as": str(p["as"])}


def _flash_dead(f, p, d, s, rng):
    p["phase"] = 0


def _character_generator(f, p, d, s, rng):
    p["how"] = pick(rng, "bit", "bit", "codes", "codes", "codes", "address")
    if p["how"] == "bit":
        f["bit"], p["level"] = int(rng.integers(8)), int(rng.integers(2))
    elif p["how"] == "codes":
        used = [int(k) for k in np.unique(s.mem[:1000]) if s.font[k].any()] or [32]
        n = min(len(used), int(rng.integers(1, 5)))
        f["codes"] = sorted(int(k) for k in rng.choice(used, n, replace=False))
        p["shapes"] = {}
        for code in f["codes"]:
            shape = s.font[code].copy()
            if rng.random() < 0.5:
                shape[rng.integers(8)] ^= np.uint8(rng.integers(1, 256))
                shape[rng.integers(8)] ^= np.uint8(0xFF)
            else:
                shape[:] = s.font[rng.integers(256)]
            p["shapes"][code] = shape
    else:
        f["line"], p["level"] = int(rng.integers(3, 11)), int(rng.integers(2))
    f["made"] = {"how": p["how"], "level": p.get("level")}


def _no_signal(f, p, d, s, rng):
    p["shows"] = pick(rng, "blue", "black", "snow", "snow")
    f["made"] = dict(p)


def _sync_weak(f, p, d, s, rng):
    p["mode"] = pick(rng, "jitter", "tear", "roll")
    p["strength"] = between(rng, 0.15, 1.0)
    f["made"] = {"mode": p["mode"], "strength": round(p["strength"], 3)}


def _noise(f, p, d, s, rng):
    p["sigma"] = between(rng, 0.045, 0.2)
    p["pink"] = bool(rng.random() < 0.3)
    f["made"] = {"sigma_of_white": round(p["sigma"], 4)}


def _hum(f, p, d, s, rng):
    p["size"], p["twice"] = between(rng, 0.06, 0.35), bool(rng.random() < 0.4)
    p["gain"], p["phase"] = float(rng.uniform(0.2, 0.9)), float(rng.uniform(0, 6.3))
    f["made"] = {"pp_of_white": round(p["size"], 3), "twice_mains": p["twice"]}


def _ringing(f, p, d, s, rng):
    p["hz"], p["q"], p["size"] = between(rng, 1.2e6, 3.0e6), float(rng.uniform(2, 5)), between(rng, 0.18, 0.5)
    f["made"] = {"hz": round(p["hz"]), "size": round(p["size"], 3)}


def _low_bandwidth(f, p, d, s, rng):
    p["hz"] = between(rng, 0.45e6, 1.5e6)
    f["made"] = {"minus_3_db_hz": round(p["hz"])}


def _ghost(f, p, d, s, rng):
    p["delay"], p["size"] = between(rng, 0.25e-6, 2.5e-6), between(rng, 0.08, 0.35) * pick(rng, 1, 1, -1)
    f["made"] = {"delay_ns": round(p["delay"] * 1e9), "size": round(p["size"], 3)}


def _fixed_bars(f, p, d, s, rng):
    f["period_px"] = pick(rng, 4, 8, 8, 16, 2 if d.pal else 4)
    p["size"], p["shape"], p["phase"] = between(rng, 0.025, 0.15), pick(rng, "sine", "spike"), float(rng.uniform(0, 6.3))
    if f["period_px"] <= 4:
        p["shape"] = "sine"
    f["made"] = {"pp_of_white": round(p["size"], 3), "shape": p["shape"]}


def _colour_lost(f, p, d, s, rng):
    p["how"] = pick(rng, "no burst", "no chroma")
    f["made"] = dict(p)


def _hue_shift(f, p, d, s, rng):
    f["degrees"] = round(between(rng, 15, 100) * pick(rng, -1, 1), 1)


def _level_high(f, p, d, s, rng):
    p["gain"] = between(rng, 1.15, 1.7)
    f["made"] = {"gain": round(p["gain"], 3)}


def _level_low(f, p, d, s, rng):
    p["gain"] = between(rng, 0.3, 0.75)
    f["made"] = {"gain": round(p["gain"], 3)}


def _clipping(f, p, d, s, rng):
    p["at"], p["soft"] = float(rng.uniform(0.5, 0.82)), float(rng.uniform(0.005, 0.05))
    f["made"] = {"at_of_white": round(p["at"], 3)}


def _interference(f, p, d, s, rng):
    f["frequency_hz"] = float(round(pick(rng, between(rng, 4e4, 3e5), between(rng, 4e5, 1.6e6), between(rng, 1.6e6, 3.0e6))))
    p["size"] = between(rng, 0.03, 0.2)
    p["phase"] = float(rng.uniform(0, 6.3))
    f["made"] = {"pp_of_white": round(p["size"], 3)}
