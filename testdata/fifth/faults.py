"""Draws a fault: its place and its severity. Keys are those of the catalogue; `made` has rates and strengths."""
import numpy as np

CLASSES = {
    "ram-bit": ["data-bit-stuck", "data-bit-weak", "address-line-stuck", "row-dead", "column-dead", "refresh-loss", "supply-or-all-lanes"],
    "video-logic": ["colour-path", "border-latch", "cell-fetch", "line-counter", "cell-snow", "shift-register", "blank-picture", "flash-dead",
                    "character-generator"],
    "signal": ["no-signal", "sync-weak", "noise", "hum", "ringing", "low-bandwidth", "ghost", "fixed-bars", "colour-lost", "hue-shift",
               "level-high", "level-low", "clipping", "interference"],
    "cpu-side": ["power-up-pattern"],
}
CLASS = {k: c for c, kinds in CLASSES.items() for k in kinds}
ONLY = {"flash-dead": "attr", "character-generator": "text"}
# Kinds that may come and go as a bad joint makes them.
LOOSE = ("address-line-stuck", "row-dead", "column-dead", "colour-path", "cell-fetch", "line-counter", "shift-register", "character-generator")


def pick(rng, xs):
    return xs[int(rng.integers(len(xs)))]


def between(rng, a, b, weak):
    """A strength: the weak third or the rest, evenly in its logarithm."""
    a, b = np.log(a), np.log(b)
    u = rng.uniform(0, 0.3) if weak else rng.uniform(0.3, 1)
    return float(np.exp(a + (b - a) * u))


def draw(kind, d, machine, rng, number):
    """One fault of this kind."""
    weak = rng.random() < 0.3
    f = {"class": CLASS[kind], "kind": kind, "made": {}, "_id": number}
    if weak:
        f["made"]["weak"] = True
    globals()["signal" if f["class"] == "signal" else kind.replace("-", "_")](f, d, machine, rng, weak)
    if weak and kind in LOOSE and rng.random() < 0.6:
        n, runs, state = 64, [], True
        duty = rng.uniform(0.35, 0.8)
        while len(runs) < n:  # some fields with it, some without, in runs as a joint's contact has them
            runs += [state] * int(rng.integers(1, 5) * (duty if state else 1 - duty) * 2 + 1)
            state = not state
        f["_runs"] = np.array(runs[:n])
        f["made"]["duty"] = round(float(np.mean(f["_runs"])), 2)
    return f


def data_bit_stuck(f, d, m, rng, weak):
    if d.kind == "text":
        f["memory"] = "colour" if rng.random() < 0.25 else "screen"
    f["bit"] = int(rng.integers(4 if f.get("memory") == "colour" else 8))
    f["level"] = int(rng.integers(2))


def data_bit_weak(f, d, m, rng, weak):
    data_bit_stuck(f, d, m, rng, weak)
    f["made"]["to"] = f.pop("level")
    share = between(rng, 0.01, 0.7, weak)
    time = 1.0 if rng.random() < 0.4 else between(rng, 0.1, 0.95, weak)
    f["_cells"] = np.random.default_rng([m.seed, 5]).random(16384) < share
    f["made"].update(of_cells=round(share, 3), in_time=round(time, 3))


def address_line_stuck(f, d, m, rng, weak):
    top = 13 if d.kind == "attr" else 10
    lane = rng.random() < 0.6
    if rng.random() < 0.5:  # behind the multiplexer a pin carries two lines
        k = int(rng.integers(7))
        lines = [k, k + 7]
    else:
        lines = [int(rng.integers(top))]
    f["lanes"] = [int(rng.integers(8))] if lane else list(range(8))
    f["lines"], f["line"], f["level"] = lines, lines[0], int(rng.integers(2))
    f["made"]["lines"] = lines
    if d.kind == "text":
        f["memory"] = "screen"


def row_dead(f, d, m, rng, weak):
    f["bit"], f["level"], f["row"] = int(rng.integers(8)), int(rng.integers(2)), int(rng.integers(128))
    if d.kind == "text":
        f["memory"] = "screen"


def column_dead(f, d, m, rng, weak):
    f["bit"], f["level"], f["column"] = int(rng.integers(8)), int(rng.integers(2)), int(rng.integers(54 if d.kind == "attr" else 8))
    if d.kind == "text":
        f["memory"] = "screen"


def refresh_loss(f, d, m, rng, weak):
    f["lanes"] = sorted(rng.choice(8, pick(rng, [1, 1, 2, 3, 8]), replace=False).tolist())
    r = np.random.default_rng([m.seed, 6])
    # Each row was refreshed last at another time; each cell holds for another while.
    row = np.exp(r.normal(0, 0.9, (len(f["lanes"]), 128)))
    f["_hold"] = [np.tile(row[k], 128) * np.exp(r.normal(0, 0.35, 16384)) * 40 for k in range(len(f["lanes"]))]
    f["made"].update(elapsed_ms=round(between(rng, 5, 30, weak), 1), ms_a_field=round(rng.uniform(0.3, 1.6), 2), turn=int(rng.choice([0, 64, 64, 128])))
    if d.kind == "text":
        f["memory"] = "screen"


def supply_or_all_lanes(f, d, m, rng, weak):
    lanes = sorted(rng.choice(8, int(rng.integers(6, 9)), replace=False).tolist())
    base = between(rng, 0.06, 0.7, weak)
    f["lanes"] = lanes
    f["made"]["rates"] = [round(min(0.95, base * rng.uniform(0.6, 1.4)), 3) for _ in lanes]
    f["made"]["to"] = [pick(rng, [None, None, 0, 1]) for _ in lanes]
    if d.kind == "text":
        f["memory"] = "screen"


def colour_path(f, d, m, rng, weak):
    if d.kind == "attr":
        f["component"], f["level"] = pick(rng, ["green", "red", "blue"]), int(rng.random() < 0.35)
    else:
        f["component"], f["level"] = pick(rng, ["luma", "cb", "cr", "cb", "cr"]), 0


def border_latch(f, d, m, rng, weak):
    n = 8 if d.kind == "attr" else 16
    f["expected"] = int(m.border)
    one = [m.border ^ 1 << k for k in range(3 if d.kind == "attr" else 4)]
    f["seen"] = int(pick(rng, one) if rng.random() < 0.7 else pick(rng, [c for c in range(n) if c != m.border]))


def cell_fetch(f, d, m, rng, weak):
    c = pick(rng, ["odd", "even", "after", "after", "colour-shift"])
    f["columns"] = f"after {rng.integers(4, d.columns - 6)}" if c == "after" else c
    f["made"].update(way=pick(rng, ["before", "bus", "both"]), rate=1.0 if rng.random() < 0.4 else round(between(rng, 0.15, 0.95, weak), 2), by=pick(rng, [1, -1]))


def line_counter(f, d, m, rng, weak):
    f["counter_bit"], f["level"] = int(rng.integers(8)), int(rng.integers(2))


def cell_snow(f, d, m, rng, weak):
    f["made"]["bytes_a_field"] = round(between(rng, 4, 250, weak), 1)


def shift_register(f, d, m, rng, weak):
    f["made"].update(way=pick(rng, ["stage", "stage", "late", "pairs", "joined"]), pixel=int(rng.integers(8)), level=int(rng.integers(2)))


def blank_picture(f, d, m, rng, weak):
    f["made"]["with"] = "border" if rng.random() < 0.2 else "black"


def flash_dead(f, d, m, rng, weak):
    pass


def character_generator(f, d, m, rng, weak):
    u = rng.random()
    f["made"]["level"] = int(rng.integers(2))
    if u < 0.4:
        f["bit"] = int(rng.integers(8))
    elif u < 0.7:
        f["line"] = int(rng.integers(3, 11)) if rng.random() < 0.6 else int(rng.integers(3))
    else:
        used = np.unique(m.mem[:1000], return_counts=True)
        often = used[0][np.argsort(-used[1])][:25]
        f["codes"] = sorted(int(c) for c in rng.choice(often, min(len(often), int(rng.integers(1, 5))), replace=False))
        f["made"]["pattern"] = int(rng.choice([0xFF, 0x3C, 0x10, 0x81, 0x18]))


def power_up_pattern(f, d, m, rng, weak):
    """Memory as it wakes: blocks of ones and zeros by address, a few cells of their own mind."""
    a = np.arange(16384)
    way = int(rng.integers(5))
    k = 1 << int(rng.integers(5, 9))
    base = np.where(a & k, 255, 0)
    if way == 1:
        base = np.where((a & k > 0) ^ (a & 1 > 0), 255, 0)
    elif way == 2:
        base = np.where(a & k, 0xAA, 0x55)
    elif way == 3:
        base = np.where(a & k, 255, 0) ^ np.where(a & 4 * k, 0x0F, 0)
    r = np.random.default_rng([m.seed, 7])
    flips = np.packbits(r.random((16384, 8)) < rng.uniform(0.01, 0.12), axis=1)[:, 0]
    m.mem = (base.astype(np.uint8) ^ flips) if way < 4 else r.integers(0, 256, 16384).astype(np.uint8)
    m.nibbles = (r.integers(0, 16, 2048) if rng.random() < 0.5 else np.where(np.arange(2048) & k // 2, 15, 0) ^ (flips[:2048] & 15)).astype(np.uint8)
    m.border = int(rng.integers(8 if d.kind == "attr" else 16))
    m.paper = int(rng.integers(16))
    f["made"]["way"] = way


def signal(f, d, m, rng, weak):
    made, kind = f["made"], f["kind"]
    s = lambda a, b: round(between(rng, a, b, weak), 4)
    sign = lambda: 1 if rng.random() < 0.5 else -1
    if kind == "no-signal":
        made["puts_up"] = pick(rng, ["blue", "black", "snow", "grey"])
    elif kind == "sync-weak":
        made.update(left=round(1.25 - s(0.8, 1.2), 3), bend_us=s(0.2, 2.5), way=pick(rng, ["roll", "tear", "jitter"]))
    elif kind == "noise":
        made["snr_db"] = round(38 - s(4, 20), 1)
    elif kind == "hum":
        made.update(part=s(0.04, 0.28), hz=d.hz * pick(rng, [1, 2]), phase=round(rng.uniform(0, 6.28), 2))
    elif kind == "ringing":
        made.update(hz=float(round(rng.uniform(1.6e6, 3.0e6))), part=s(0.5, 1.6), q=round(rng.uniform(2.5, 5), 2))
    elif kind == "low-bandwidth":
        made["hz"] = float(round(1.7e6 / s(1.05, 4.5)))
    elif kind == "ghost":
        made.update(delay_us=round(rng.uniform(0.5, 4), 3), part=s(0.12, 0.45) * sign())
    elif kind == "fixed-bars":
        f["period_px"] = pick(rng, [4, 8, 8, 16])
        made.update(part=s(0.02, 0.12), phase=round(rng.uniform(0, 6.28), 2), square=bool(rng.random() < 0.4))
    elif kind == "colour-lost":
        made["way"] = pick(rng, ["no burst", "no chroma", "off frequency"])
    elif kind == "hue-shift":
        f["degrees"] = round(sign() * s(14, 70), 1)
    elif kind == "level-high":
        made["gain"] = round(1 + s(0.18, 0.75), 3)
    elif kind == "level-low":
        made["gain"] = round(1 - s(0.22, 0.62), 3)
    elif kind == "clipping":
        made["at"] = round(1.0 - s(0.18, 0.5), 3)
    elif kind == "interference":
        f["frequency_hz"] = float(round(np.exp(rng.uniform(np.log(1.2e5), np.log(2.9e6)))))
        made["part"] = s(0.025, 0.15)
