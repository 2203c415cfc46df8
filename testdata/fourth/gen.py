"""Makes seeded captures of invented machines and the truth of each.

    gen.py FIRST COUNT OUT [--kinds K,K] [--pairs SHARE] [--reference SHARE] [--display NAME] [--jobs N]

Each block of 120 seeds holds 18 good machines, 12 pairs, and the kinds in turn; one seed alone gives the same capture as in its block.
"""
import argparse
import json
import os
from concurrent.futures import ProcessPoolExecutor

import numpy as np

import faults
import rivals
import screens
import write
from device import Device
from machine import Machine
from profiles import NAMES, Display
from wave import Output

BLOCK, GOOD, PAIRS = 120, 18, 12
PAIR_LOGIC = ("data-bit-stuck", "data-bit-weak", "address-line-stuck", "row-dead", "column-dead", "refresh-loss", "colour-path",
              "cell-fetch", "line-counter", "cell-snow", "shift-register", "character-generator")
PAIR_SIGNAL = ("noise", "noise", "hum", "ringing", "low-bandwidth", "ghost", "fixed-bars", "hue-shift", "colour-lost", "level-high",
               "level-low", "clipping", "interference")
ALWAYS_REFERENCE = ("border-latch", "flash-dead")  # show on nothing else


def plan(seed, kinds, pair_share):
    """The kinds of a seed: none, one or two names."""
    rng = np.random.default_rng([4, seed])
    if kinds:
        deal = kinds[(seed - 1) % len(kinds)]
        deal = "pair" if rng.random() < (pair_share or 0) else deal
    else:
        block, place = divmod(seed - 1, BLOCK)
        r = np.random.default_rng([44, block])
        turn = list(r.permutation(faults.KINDS))
        many = BLOCK - GOOD - PAIRS
        deal = r.permutation(["clean"] * GOOD + ["pair"] * PAIRS + [turn[k % len(turn)] for k in range(many)])[place]
    if deal == "pair":
        while True:
            two = [str(rng.choice(PAIR_LOGIC)), str(rng.choice(PAIR_SIGNAL))]
            if two[0] != "colour-path" or two[1] not in ("hue-shift", "colour-lost"):  # each would hide the other
                return two
    return [] if deal == "clean" else [str(deal)]


NEEDS = {"clipping": 0.02, "level-high": 0.05, "level-low": 0.05, "colour-lost": 0.03, "hue-shift": 0.03}  # shares; others below


def sort_of(seed, names, display):
    """The display of a seed: each in turn over a block, the sort changed where the kinds ask for it."""
    block, place = divmod(seed - 1, BLOCK)
    name = display or str(np.random.default_rng([45, block]).permutation(list(NAMES) * (BLOCK // len(NAMES)))[place])
    for only, sort in ((faults.ATTR_ONLY, "attr"), (faults.TEXT_ONLY, "text")):
        if set(names) & only and not name.startswith(sort):
            if display:
                raise SystemExit(f"{seed}: {', '.join(names)} cannot be shown on {display}")
            name = next(n for n in NAMES if n.startswith(sort) and n[-2:] == name[-2:])
    return Display(name)


def acts(f, picture):
    """Share of the raster on which a fault of the signal has something to act."""
    kind, y = f["kind"], picture[..., 0]
    if kind in ("level-high", "level-low"):
        return float((y > 0.25).mean())
    if kind in ("colour-lost", "hue-shift"):
        return float((np.hypot(picture[..., 1], picture[..., 2]) > 0.08).mean())
    if kind == "clipping":
        return float((y > f["_"]["at"] + 0.1).mean())
    if kind in ("ringing", "low-bandwidth", "ghost"):
        return float((np.abs(np.diff(y, axis=1)) > 0.2).mean())
    return 1.0


def shares(d, screen, some, seed, first, fields):
    """Of each fault, the share of the raster that it changes in the worst field, alone or beside the other, the lesser of both."""
    out = []
    good = Machine(d, screen, (), seed, first)
    every = Machine(d, screen, some, seed, first)
    for f in some:
        if f["class"] == "signal":
            out.append(min(acts(f, good.picture(0)), acts(f, every.picture(0))))
            continue
        if f["class"] == "cpu-side":
            out.append(1.0)
            continue
        alone = Machine(d, screen, [f], seed, first)
        rest = Machine(d, screen, [g for g in some if g is not f], seed, first)
        worst = 0.0
        for n in fields:
            one = float((alone.picture(n) != good.picture(n)).any(axis=2).mean())
            if len(some) > 1:
                one = min(one, float((every.picture(n) != rest.picture(n)).any(axis=2).mean()))
            worst = max(worst, one)
        out.append(worst)
    return out


def _unseen(some, d, screen):
    """A picture blanked to a black border is one that no one would tell from no picture."""
    return any(f["kind"] == "blank-picture" for f in some) and d.lut[screen.border][0] < 0.1


def invent(seed, names, display):
    """Display, screen and faults of a seed, tried until each fault shows; and what share of the picture it touches."""
    best = None
    for attempt in range(25):
        rng = np.random.default_rng([seed, attempt])
        d = sort_of(seed, names, display)
        screen = screens.Screen(d, rng, flashing="flash-dead" in names)
        some = [faults.draw(n, d, screen, rng) for n in names]
        first = int(rng.integers(32))
        frames = max([faults.LONG.get(n, 12) for n in names] + [12])
        fields = range(0, 2 * frames, 1 if "flash-dead" in names else 4)
        share = shares(d, screen, some, seed, first, fields)
        need = 0.004 if len(names) > 1 else 0.0006
        needs = [NEEDS.get(f["kind"], need * (5 if f["class"] == "signal" else 1)) for f in some]
        got = (d, screen, some, share, first, frames, rng)
        if all(s >= n for n, s in zip(needs, share)) and not _unseen(some, d, screen):
            return got
        if best is None or min(share) > min(best[3]):
            best = got
    return best


def dead_input(device, shows, frames, rng):
    """What a device puts up without a signal."""
    w, h = device.size
    out = []
    for _ in range(frames):
        if shows == "snow":
            y = rng.normal(90, 55, (h, w + 2)).astype(np.float32)
            y = 0.6 * y[:, 1:-1] + 0.35 * (y[:, :-2] + y[:, 2:]) * 0.6
            c = [rng.normal(128, 9, (h, w // 2)) for _ in range(2)]
            out.append([np.clip(p, 1, 254).astype(np.uint8) for p in (y, *c)])
        else:
            code = (16, 128, 128) if shows == "black" else (35, 212, 114)
            out.append([np.full((h, w if k == 0 else w // 2), code[k], np.uint8) for k in range(3)])
    return out


def record(machine, out, device, frames, rng, slips=True):
    """Frames that a device gives of a machine; rarely one twice, or one lost."""
    device.prepare(out)
    lut = machine.lut()
    got, n = [], 0
    twice = int(rng.integers(2, frames)) if slips and frames > 8 and rng.random() < 0.06 else -1
    lost = int(rng.integers(2, frames)) if slips and frames > 8 and rng.random() < 0.06 else -1
    while len(got) < frames:
        if len(got) == twice:
            got.append(got[-1])
            continue
        if len(got) == lost:
            n, lost = n + 2, -1
        pair = []
        for k in (n, n + 1):
            w = out.field(machine.raster(k), lut, k, rng)
            y, z = device.decode(w, rng)
            pair.append(device.codes(*device.frame_lines(y, z, k, rng)))
        got.append(write.weave(*(pair[::-1] if device.order else pair)))
        n += 2
    return got


def capture(seed, folder, kinds=None, pair_share=None, reference_share=0.4, display=None):
    names = plan(seed, kinds, pair_share)
    d, screen, some, share, first, frames, rng = invent(seed, names, display)
    base = os.path.join(folder, str(seed))
    shown = screen
    if "power-up-pattern" in names:
        shown = screens.woken(d, rng)
    for f in some:
        f["rivals"], double = rivals.find(d, screen, f, seed, first)
        if double and f["kind"] in ("address-line-stuck", "cell-fetch", "line-counter"):
            key = {"address-line-stuck": "lines", "cell-fetch": "columns", "line-counter": "counter_bit"}[f["kind"]]
            f["made"] = {**f.get("made", {}), key: f[key]}
    machine = Machine(d, shown, some, seed, first)
    out, device = Output(d, rng, some), Device(d, rng, some)
    still = not some or all(f["kind"] in rivals.STILL + ("border-latch", "power-up-pattern", "colour-lost", "level-low", "ghost")
                            and not f["_"].get("flicker") for f in some)
    sort = rng.random()
    as_stills = still and sort < 0.14
    if as_stills:
        frames = int(rng.choice([1, 1, 2, 3]))
    dead = next((f for f in some if f["kind"] == "no-signal"), None)
    device.prepare(out)
    got = dead_input(device, dead["_"]["shows"], frames, rng) if dead else record(machine, out, device, frames, rng)
    codec, quality = "mjpeg", int(rng.choice([2, 2, 3, 3, 4, 5, 7]))
    rate = 1 / d.field_s / 2
    if as_stills:
        codec = "png"
        write.stills(got, base, device.full_range)
    elif sort > 0.9:
        codec = "ffv1"
        write.video(got, base + ".mkv", codec, 0, rate)
    elif sort > 0.82:
        codec = "huffyuv"
        write.video(got, base + ".avi", codec, 0, rate)
    else:
        write.video(got, base + ".avi", codec, quality, rate)
    truth = {"key": str(seed), "seed": seed, "display": d.name, "screen": shown.kind, "class": some[0]["class"] if some else "clean",
             "faults": [], "fill": screen.fill if shown is screen else None, "frames": frames,
             "border": {"colour": screen.border, "name": d.colour_names[screen.border & 7 if d.attr else screen.border]}, "font": None,
             "reference": None}
    for f, s in zip(some, share):
        plain = {k: v for k, v in f.items() if k != "_"}
        if f.get("made"):
            for key in ("lines", "columns", "counter_bit"):
                if key in f["made"]:  # the picture fits other values as well, so none is asked for
                    plain[key] = None
        plain["visible"], plain["share"] = bool(s > 0), round(s, 5)
        truth["faults"].append(plain)
    pitch, x, y = device.geometry()
    truth.update(pitch_x=round(pitch, 5), origin_x=round(x, 2), origin_y=y)
    truth["device"] = {"decoder": device.kind, "codec": codec, "quality": quality if codec == "mjpeg" else None, "size": list(device.size),
                       "full_range": device.full_range, "later_field_first": bool(device.order),
                       "second_field_cut": device.second_cut, "chroma_hz": round(device.chroma_hz)}
    extra = np.random.default_rng([seed, 31])
    if not d.attr and extra.random() < 0.6:
        truth["font"] = f"{seed}.font"
        with open(os.path.join(folder, truth["font"]), "wb") as f:
            f.write(screen.font[:screen.glyphs].tobytes())
    if set(names) & set(ALWAYS_REFERENCE) or extra.random() < reference_share:
        good = Machine(d, screen, (), seed + 1, int(extra.integers(32)))
        moving = "flash-dead" in names
        png = extra.random() < 0.35 and not moving
        ref = record(good, Output(d, extra), device.same(extra), 1 if png else (20 if moving else 4), extra, False)
        truth["reference"] = f"{seed}-ref.png" if png else f"{seed}-ref.avi"
        if png:
            write.Image.fromarray(write.rgb(ref[0], device.full_range)).save(base + "-ref.png", compress_level=3)
        else:
            write.video(ref, base + "-ref.avi", "mjpeg", quality, rate)
    with open(base + ".json", "w") as f:
        json.dump(truth, f, indent=1, default=lambda v: v.item())
    return f"{seed} {d.name} {shown.kind} {'+'.join(names) or 'clean'} {[round(s, 4) for s in share]}"


def main():
    p = argparse.ArgumentParser(description="Makes captures and their truth.")
    p.add_argument("first", type=int)
    p.add_argument("count", type=int)
    p.add_argument("out")
    p.add_argument("--kinds", default="")
    p.add_argument("--pairs", type=float)
    p.add_argument("--reference", type=float, default=0.4)
    p.add_argument("--display")
    p.add_argument("--jobs", type=int, default=1)
    a = p.parse_args()
    kinds = [k for k in a.kinds.split(",") if k]
    wrong = [k for k in kinds if k not in faults.KINDS + ["clean", "pair"]]
    if wrong or a.display and a.display not in NAMES:
        p.error(f"no such kind or display: {', '.join(wrong) or a.display}; kinds are clean, pair, {', '.join(faults.KINDS)}")
    os.makedirs(a.out, exist_ok=True)
    with ProcessPoolExecutor(a.jobs) as pool:
        jobs = [pool.submit(capture, s, a.out, kinds, a.pairs, a.reference, a.display) for s in range(a.first, a.first + a.count)]
        for j in jobs:
            print(j.result(), flush=True)


if __name__ == "__main__":
    main()
