"""Writes captures with their truth.

    gen.py FIRST COUNT OUT [--kinds a,b,a+c] [--reference SHARE] [--display NAME]

Capture K has seed K. Kinds are those of the catalogue, "clean", or two joined by a plus.
"""
import argparse
import json
import os

import numpy as np

import device
import displays
import faults
import machine
import path
import screens
import write

DISPLAYS = displays.load()
BESIDE = ("noise", "hum", "ringing", "low-bandwidth", "ghost", "fixed-bars", "level-low", "hue-shift", "colour-lost", "interference", "sync-weak", "noise")
ALONE = ("flash-dead",)  # never in a pair: what it shows is a matter of time only
NEEDS_COLOUR = ("colour-lost", "hue-shift", "colour-path")
ENOUGH = 25  # pixels of the worst field that a fault should change, else another screen is drawn


def plan(seed):
    """Kinds and display of a seed: every 120 hold 18 good machines, 12 pairs and all kinds in turn."""
    block, i = divmod(seed - 1, 120)
    r = np.random.default_rng([7, block])
    slots = [[]] * 18 + ["pair"] * 12 + [[k] for k in faults.KINDS * 2 + faults.RAM + faults.LOGIC + tuple(faults.SIGNAL[1:13])]
    names = sorted(DISPLAYS)
    order = r.permutation(120)
    return slots[order[i]], names[(int(order[i]) + int(order[i]) // 31 + block) % 4]


def fit(name, kinds):
    """The display of the same standard on which the kinds can be."""
    if "character-generator" in kinds:
        return name.replace("attr-256x192", "text-40x25")
    return name.replace("text-40x25", "attr-256x192") if "flash-dead" in kinds else name


def draw_pair(rng):
    while True:
        a = str(rng.choice([k for k in faults.RAM + faults.LOGIC if k not in ALONE]))
        b = str(rng.choice(BESIDE))
        if not (a in ("colour-path", "border-latch") and b in ("colour-lost", "hue-shift")):
            return [a, b]


def screen_for(rng, d, kinds):
    if "power-up-pattern" in kinds:
        return screens.draw(rng, d, "wake")
    if "clipping" in kinds:  # more than one level has to lie beyond what is cut
        return screens.draw(rng, d, str(rng.choice(("bars", "bars", "game"))))
    if any(k in NEEDS_COLOUR for k in kinds):
        return screens.draw(rng, d, str(rng.choice(screens.COLOURFUL)))
    names = [n for n in screens.USUAL if not (n == "fill" and any(k in ("shift-register", "character-generator", "cell-fetch", "flash-dead") for k in kinds))]
    return screens.draw(rng, d, str(rng.choice(names)))


class Capture:
    """A machine with its faults, over a number of fields."""

    def __init__(self, scene, hurt, fields, phase):
        self.scene, self.hurt, self.fields, self.phase = scene, hurt, fields, phase
        self.logic = [t for t in hurt if t["kind"] in faults.RAM + faults.LOGIC]
        self.signal = [t for t in hurt if t["kind"] in faults.SIGNAL]
        self.flashes = scene.kind == "attr" and not any(t["kind"] == "flash-dead" for t in hurt)
        self.seen = {}

    def moving(self, t):
        return t["kind"] in ("data-bit-weak", "refresh-loss", "supply-or-all-lanes", "cell-snow") and t.get("how") != "places" or t.get("flicker", 1) < 1

    def raster(self, f, without=None):
        now = [t for t in self.logic if t["when"][f] and t is not without]
        key = f if any(self.moving(t) for t in now) else ((f + self.phase) // 16 % 2 if self.flashes else 0)
        key = (key, tuple(id(t) for t in now))
        if key not in self.seen:
            self.seen[key] = machine.raster(self.scene, now, f, self.phase)
        return key, self.seen[key]

    def share(self, t):
        """Part of the picture that a fault changes in its worst field, beside the others and by itself."""
        grey = any(o["kind"] == "colour-lost" for o in self.signal)
        at = np.flatnonzero(t["when"])
        at = at[np.unique(np.linspace(0, len(at) - 1, 14).astype(int))]
        worst = []
        for others in {len(self.logic) > 1, False}:
            one = self if others else Capture(self.scene, [t] + self.signal, self.fields, self.phase)
            best = 0.0
            for f in at:
                a, b = one.raster(f)[1], Capture(self.scene, [o for o in one.hurt if o is not t], self.fields, self.phase).raster(f)[1]
                if grey:
                    best = max(best, float((np.abs(a[1][a[0]][..., 0] - b[1][b[0]][..., 0]) > .02).mean()))
                else:
                    best = max(best, machine.share(a, b))
            worst.append(best)
        return min(worst)


def fields_of(cap, dev, rng):
    """8-bit fields of a capture."""
    if any(t["kind"] == "no-signal" for t in cap.signal):
        return unlit(cap.signal[0]["shows"], dev, cap.fields, rng)
    p, noise, planes, out = path.placer(dev, cap.signal), path.Noise(rng, dev), {}, []
    last = None
    for f in range(cap.fields):
        key, r = cap.raster(f)
        shift = sum(path.rolled(t, f) for t in cap.signal if t["kind"] == "sync-weak")
        if (key, shift) not in planes:
            if len(planes) > 6:
                planes.pop(last)
            planes[key, shift] = p.place(*r, shift=shift)
        last = (key, shift)
        y = path.finish(p, planes[last], f, dev, cap.signal, noise, rng)
        if dev.second_off and f % 2:
            y = tuple(np.concatenate([q[:1], q[:-1]]) for q in y)
        out.append(y)
    return out


def unlit(shows, dev, n, rng):
    """What a device puts up without a signal."""
    h, w = dev.d.field_height, dev.width
    base = {"blue": (.114 * .8, .4, -.065), "black": (0, 0, 0), "grey": (.45, 0, 0), "snow": (.4, 0, 0)}[shows]
    y, cb, cr = (np.full((h, x), v, np.float32) for x, v in zip((w, w // 2, w // 2), base))
    if shows != "snow":
        return [path.codes(y, cb, cr, dev.full_range)] * n
    noise = path.Noise(rng, dev)
    return [path.codes(*noise.add(dev, y, cb, cr, .28, .12), dev.full_range) for _ in range(n)]


def frames_of(fields, dev):
    if dev.deinterlace == "bob":
        return [write.bobbed(f, bool(i % 2) != dev.bottom_first) for i, f in enumerate(fields)]
    out = [write.weave(fields[i], fields[i + 1], dev.bottom_first) for i in range(0, len(fields) - 1, 2)]
    return [write.blended(f) for f in out] if dev.deinterlace == "blend" else out


def acts(cap, t, dev, rng):
    """Whether a fault of the path has something to act on: the field without noise, with it and without it."""
    if t["kind"] in ("no-signal", "sync-weak", "noise"):
        return True
    quiet = device.Device(np.random.default_rng(0), dev.d, dev)
    vars(quiet).update(vars(dev))
    quiet.noise = quiet.chroma_noise = quiet.jitter = 0
    seen = []
    for these in (cap.signal, [o for o in cap.signal if o is not t]):
        p = path.placer(quiet, these)
        seen.append(path.finish(p, p.place(*cap.raster(0)[1]), 0, quiet, [o for o in these if o["kind"] != "sync-weak"], path.Noise(np.random.default_rng(0), quiet),
                                np.random.default_rng(0)))
    apart = [np.abs(a.astype(float) - b) for a, b in zip(*seen)]
    if t["kind"] in ("hum", "fixed-bars", "interference"):  # all over the picture: a code, as a mean
        return max(float((a ** 2).mean()) for a in apart) > 1
    return max(float((a > 6).mean()) for a in apart) > .002


def told(cap, t, dev, rng):
    """A fault as the truth has it."""
    kind = t["kind"]
    out = {"class": faults.class_of(kind), "kind": kind}
    out.update({k: t[k] for k in faults.KEYS.get(kind, ()) if k in t})
    made = {k: v for k, v in t.items() if k not in out and k not in ("when", "seed")}
    if kind == "address-line-stuck":
        out["line"] = t["lines"][0]
    if t in cap.logic:
        out["share"] = t["share"]
        out["visible"] = t["share"] * cap.scene.d.seen_w * cap.scene.d.seen_h >= 6
        out["rivals"], loose = faults.rivals(cap.scene, t)
        for k in loose:
            made["true_" + k], out[k] = out.get(k, t.get(k)), None
        if "lines" in loose:
            out["line"] = None
        if kind == "shift-register":
            made["bit"] = 7 - t["stage"]
    else:
        out["visible"] = True if kind == "power-up-pattern" else acts(cap, t, dev, rng)
        out["rivals"] = {"level-high": [{"class": "signal", "kind": "clipping"}]}.get(kind, [])
        if kind == "clipping" and t["gain"] > 1:
            out["rivals"] = [{"class": "signal", "kind": "level-high"}]
    out["made"] = {k: rounded(v) for k, v in made.items()}
    return {k: rounded(v) for k, v in out.items()}


def rounded(v):
    return float(f"{v:.6g}") if isinstance(v, float) else v


def machine_with(rng, d, kinds, fields):
    """A screen and faults that show on it, if thirty tries find such; else the best of them."""
    best = None
    for _ in range(30 if kinds else 1):
        scene = screen_for(rng, d, kinds)
        hurt = [faults.draw(rng, d, k, scene, fields) for k in kinds]
        for t in hurt:
            t["when"] = faults.at_work(rng, t, fields)
        cap = Capture(scene, hurt, fields, int(rng.integers(32)))
        for t in cap.logic:
            t["share"] = cap.share(t)
        least = min([t["share"] for t in cap.logic] or [1.0])
        if best is None or least > best[0]:
            best = least, cap
        if least * d.seen_w * d.seen_h >= (ENOUGH if "flash-dead" not in kinds else 200):
            break
    return best[1]


def wants_reference(rng, cap, share, font):
    kinds = [t["kind"] for t in cap.hurt]
    if "power-up-pattern" in kinds or "no-signal" in kinds:
        return False
    always = {"border-latch", "flash-dead"} & set(kinds) or any(t.get("left") == "bare" or t.get("shows") == "border" for t in cap.hurt)
    if always or cap.scene.kind == "text" and not font and cap.logic and cap.logic[0]["kind"] not in ("cell-snow", "supply-or-all-lanes"):
        return True
    return bool(rng.random() < (share if "colour-path" not in kinds else max(share, min(1, 2 * share))))


def container(rng, cap, dev, still):
    u = rng.random()
    if still and u < .12:
        return "png", {"count": int(rng.choice([1, 1, 2, 4]))}
    if u < .55:
        return "mjpeg", {"quality": int(rng.integers(60, 96)), "sampling": str(rng.choice(["4:2:2"] * 5 + ["4:2:0"]))}
    if u < .7:
        return "ffv1", {}
    if u < .82:
        return "huffyuv", {}
    if dev.deinterlace != "woven":
        return "h264-frame", {"crf": int(rng.integers(14, 22))}
    return str(rng.choice(["h264-field", "h264-field", "h264-frame"])), {"crf": int(rng.integers(14, 22)), "bottom_first": dev.bottom_first}


SUFFIX = {"mjpeg": ".avi", "huffyuv": ".avi", "ffv1": ".mkv", "h264-field": ".mp4", "h264-frame": ".mp4"}


def capture(seed, out, kinds, display, share):
    rng = np.random.default_rng([seed, 20377])
    slot, name = plan(seed)
    kinds = slot if kinds is None else kinds
    kinds = draw_pair(rng) if kinds == "pair" else list(kinds)
    d = DISPLAYS[fit(display or name, kinds)]
    rate = 25 if d.pal else 30
    seconds = int(rng.choice([1] * 8 + [2, 3]))
    cap = machine_with(rng, d, kinds, 2 * rate * seconds)
    dev = device.Device(rng, d)
    steady = all(t["kind"] in faults.STILL and t["duty"] >= 1 and not cap.moving(t) for t in cap.logic)
    steady = steady and all(t["kind"] in ("ringing", "low-bandwidth", "ghost", "fixed-bars", "colour-lost", "hue-shift", "level-high", "level-low", "clipping") for t in cap.signal)
    steady = steady and not (d.kind == "attr" and (cap.scene.mem[6144:6912] & 128).any())
    how, made = container(rng, cap, dev, steady)
    if how == "png":
        cap.fields = 2 * made["count"]
    frames = frames_of(fields_of(cap, dev, rng), dev)
    made["sound"] = how != "png" and bool(rng.random() < .12)
    file = f"{seed}{SUFFIX.get(how, '')}"
    at = os.path.join(out, file)
    per_second = ("25/1" if d.pal else "30000/1001") if dev.deinterlace != "bob" else ("50/1" if d.pal else "60000/1001")
    if how == "png":
        write.stills(at, frames, dev.full_range)
    else:
        write.video(at, frames, per_second, how, made, cap.fields / 2 / rate)
    truth = {"seed": seed, "display": d.name, "screen": cap.scene.name, "class": faults.class_of(kinds[0]) if kinds else "clean",
             "faults": [told(cap, t, dev, rng) for t in cap.hurt], "fill": cap.scene.fill, "file": file, "reference": None, "font": None}
    font = d.kind == "text" and rng.random() < .8
    if font:
        truth["font"] = f"{seed}.font"
        cap.scene.font[:cap.scene.count].tofile(os.path.join(out, truth["font"]))
    if wants_reference(rng, cap, share, font):
        truth["reference"] = reference(rng, seed, out, cap, dev, rate)
    truth["device"] = {"container": how, **made, "width": dev.width, "deinterlace": dev.deinterlace, "bottom_first": dev.bottom_first, "second_off": dev.second_off,
                       "full_range": dev.full_range, "comb": dev.comb, "noise_codes": round(219 * dev.noise, 2), **{k: round(v, 4) for k, v in dev.truth().items()}}
    truth["font_style"], truth["font_order"], truth["border"] = cap.scene.style, cap.scene.order, cap.scene.border
    with open(os.path.join(out, f"{seed}.json"), "w") as f:
        json.dump(truth, f, indent=1)


def reference(rng, seed, out, cap, dev, rate):
    """A good machine of the type with the same screen, on another device of the sort."""
    flashing = cap.scene.kind == "attr" and bool((cap.scene.mem[6144:6912] & 128).any())
    moving = flashing or rng.random() < .4
    good = Capture(cap.scene, [], (2 * rate if flashing else rate) if moving else 2, int(rng.integers(32)))
    other = device.Device(rng, dev.d, dev)
    frames = frames_of(fields_of(good, other, rng), other)
    name = f"{seed}-ref" + (".avi" if moving else ".png")
    if not moving:
        write.still(os.path.join(out, name), frames[0], other.full_range)
    else:
        write.video(os.path.join(out, name), frames, str(rate * (2 if other.deinterlace == "bob" else 1)), "mjpeg", {"quality": 92, "sampling": "4:2:2"}, 1)
    return name


def main():
    a = argparse.ArgumentParser()
    a.add_argument("first", type=int)
    a.add_argument("count", type=int)
    a.add_argument("out")
    a.add_argument("--kinds")
    a.add_argument("--display", choices=sorted(DISPLAYS))
    a.add_argument("--reference", type=float, default=.3)
    a = a.parse_args()
    os.makedirs(a.out, exist_ok=True)
    kinds = [[] if k == "clean" else k.split("+") for k in a.kinds.split(",")] if a.kinds else None
    for n, seed in enumerate(range(a.first, a.first + a.count)):
        capture(seed, a.out, kinds and kinds[n % len(kinds)], a.display, a.reference)


if __name__ == "__main__":
    main()
