"""Memory to raster, each fault at its place: chips, address bus, counters, fetch, generator, shifter, palette, border.

A raster is the seen picture with its border as indices into a palette, one a pixel, and the palette that goes with it.
"""
import numpy as np

import displays

A14 = np.arange(16384)


def forced(a, lines, level):
    """Addresses with some lines held."""
    m = sum(1 << k for k in lines)
    return a | m if level else a & ~m


def with_bits(data, other, mask):
    """data, but the masked bits from other."""
    return (data & ~np.uint8(mask)) | (other & np.uint8(mask))


def mask_of(lanes):
    return sum(1 << b for b in lanes)


def held(level):
    return np.uint8(255 if level else 0)


def memory_reads(scene, faults, f):
    """What each address of the screen's memory gives in field f, and what each of the colour memory gives."""
    out, colour = scene.mem, scene.colour
    for t in faults:
        k = t["kind"]
        if k in ("data-bit-stuck", "data-bit-weak") and t.get("memory") == "colour":
            bad = True if k == "data-bit-stuck" else weak(t, f, 1024)
            colour = np.where(bad, with_bits(colour, held(t["level"]), 1 << t["bit"]), colour)
        elif k == "data-bit-stuck":
            out = with_bits(out, held(t["level"]), 1 << t["bit"])
        elif k == "data-bit-weak":
            out = np.where(weak(t, f, 16384), with_bits(out, held(t["level"]), 1 << t["bit"]), out)
        elif k == "address-line-stuck":
            out = with_bits(out, out[forced(A14, t["lines"], t["level"])], mask_of(t["lanes"]))
        elif k in ("row-dead", "column-dead"):
            bad = (A14 & 127) == t["row"] if k == "row-dead" else (A14 >> 7) == t["column"]
            out = np.where(bad, with_bits(out, held(t["level"]), 1 << t["bit"]), out)
        elif k == "refresh-loss":
            r = np.random.default_rng(t["seed"])
            for b in t["lanes"]:
                row = r.gamma(1.5, t["slow"] / 1.5, 128)[A14 & 127]
                age = row * r.lognormal(0, .5, 16384)  # when a cell has lost its charge, in fields
                rest = held(1) if r.random() < .3 else held(0)
                rest = np.where(A14 >> 13, ~rest, rest) if r.random() < .5 else rest
                out = np.where(age < f + t["age"], with_bits(out, rest, 1 << b), out)
        elif k == "supply-or-all-lanes":
            r = np.random.default_rng([t["seed"], f])
            swell = t["rate"] * (.6 + .4 * np.sin(f * t["beat"] + 1))
            flips = np.zeros(16384, np.uint8)
            for i, b in enumerate(t["lanes"]):
                bad = r.random(16384, np.float32) < swell * t["uneven"][i]
                flips |= (bad << b).astype(np.uint8)
            out = np.where(r.random(16384, np.float32) < .7, with_bits(out, held(t["level"]), 255) & flips | out & ~flips, out ^ flips)
    return out, colour


def weak(t, f, n):
    """Which addresses of a weak lane fail in field f."""
    places = np.random.default_rng(t["seed"]).random(n)
    if t["how"] == "places":
        return places < t["rate"]
    now = np.random.default_rng([t["seed"], f])
    if t["how"] == "cells":  # each read by itself
        return now.random(n, np.float32) < t["rate"]
    return np.full(n, now.random() < t["rate"])  # the lane as a whole, at times


def counters(d, faults):
    y = np.arange(d.height)
    for t in faults:
        if t["kind"] == "line-counter":
            y = forced(y, [t["counter_bit"]], t["level"])
    return y


def wrong_columns(t, n):
    c = np.arange(n)
    w = t["columns"]
    return c % 2 == 1 if w == "odd" else c % 2 == 0 if w == "even" else c > int(w.split()[1])


def fetched(d, faults, f, data, colours):
    """Bytes of each line and column as the video logic gets them."""
    for t in faults:
        if t["kind"] == "cell-fetch":
            if t["columns"] == "colour-shift":
                colours = np.roll(colours, t["shift"], 1)
                continue
            bad = np.broadcast_to(wrong_columns(t, d.columns), data.shape)
            r = np.random.default_rng([t["seed"], f])
            if t["flicker"] < 1:
                cells = r.random((d.rows + 24, d.columns)) < t["flicker"]
                bad = bad & cells[np.arange(len(data)) // (8 if t["by"] == "cell" else 1) % len(cells)]
            other = {"late": np.roll(data, 1, 1), "float": data | np.roll(data, 1, 1), "bus": np.full_like(data, 255),
                     "noise": r.integers(0, 256, data.shape, dtype=np.uint8)}[t["gives"]]
            data = np.where(bad, other, data)
            if d.kind == "attr" and t["gives"] != "bus":
                colours = np.where(bad, np.roll(colours, 1, 1) if t["gives"] != "noise" else r.integers(0, 256, colours.shape, dtype=np.uint8), colours)
        elif t["kind"] == "cell-snow":
            r = np.random.default_rng([t["seed"], f])
            data, colours = data.copy(), colours.copy()
            for _ in range(r.poisson(t["rate"])):
                row, c = r.integers(d.rows), r.integers(d.columns)
                ys = slice(8 * row, 8 * row + 8)
                if d.kind == "attr" and r.random() < .5:
                    colours[ys, c] = r.integers(256)
                elif d.kind == "attr":
                    data[8 * row + r.integers(8), c] = r.integers(256)
                else:
                    data[ys, c] = r.integers(256)
    return data, colours


def generator(scene, faults):
    g = scene.font.reshape(2048)
    a = np.arange(2048)
    for t in faults:
        if t["kind"] == "character-generator":
            if "line" in t:
                g = g[forced(a, [t["line"]], t["level"])]
            elif "bit" in t:
                g = with_bits(g, held(t["level"]), 1 << t["bit"])
            else:
                g = g.copy()
                r = np.random.default_rng(t["seed"])
                for c in t["codes"]:
                    g[8 * c:8 * c + 8] = r.integers(0, 256, 8) if t["gives"] == "noise" else held(t["gives"] == "ones")
    return g


def shifted(faults, bits):
    """The eight pixels of a cell (..., 8), leftmost first."""
    for t in faults:
        if t["kind"] == "shift-register":
            n = t["stage"]
            bits = bits.copy()
            if t["how"] == "load":  # a load input held
                bits[..., n] = t["level"]
            elif t["how"] == "feed":  # what comes after n shifts is what the serial input holds
                bits[..., n:] = t["level"]
            elif t["how"] == "short":  # two neighbours together
                both = bits[..., n] & bits[..., n + 1] if t["level"] == 0 else bits[..., n] | bits[..., n + 1]
                bits[..., n] = bits[..., n + 1] = both
            else:  # one clock missed: a pixel stands twice and the last is lost
                bits[..., n + 1:] = bits[..., n:-1].copy()
    return bits


def raster(scene, faults, f, phase=0):
    """Indices (lines, pixels) and palette of field f; faults are those at work in it."""
    d = scene.d
    mem, colour = memory_reads(scene, faults, f)
    y, c = counters(d, faults)[:, None], np.arange(d.columns)[None]
    if d.kind == "attr":
        data, colours = mem[d.bitmap_address(y, c) & 16383], mem[d.colour_address(y, c) & 16383]
        data, colours = fetched(d, faults, f, data, colours)
    else:
        a = (y >> 3) * 40 + c
        codes, colours = fetched(d, faults, f, mem[a], colour[a % 1024] & 15)
        data = generator(scene, faults)[codes.astype(int) * 8 + (y & 7)]
    bits = shifted(faults, np.unpackbits(data[..., None], axis=-1))
    if d.kind == "attr":
        flip = (colours >> 7) & (((f + phase) // 16) & 1) & (not any(t["kind"] == "flash-dead" for t in faults))
        ink, paper = (colours & 7) | (colours >> 3 & 8), (colours >> 3 & 15)
        on = bits ^ flip[..., None]
        inside = np.where(on, ink[..., None], paper[..., None])
    else:
        inside = np.where(bits, colours[..., None], np.uint8(scene.background))
    inside = inside.reshape(d.height, d.width)
    border, palette = scene.border, displays.ycc(d.palette)
    for t in faults:
        if t["kind"] == "border-latch":
            border = t["seen"]
        elif t["kind"] == "blank-picture":
            inside = np.full_like(inside, border if t["shows"] == "border" else 0)
    for t in faults:
        if t["kind"] == "colour-path":
            palette = one_component(d, t, palette)
    out = np.full((d.seen_h, d.seen_w), border, np.uint8)
    out[d.top:d.top + d.height, d.left:d.left + d.width] = inside
    return out, palette


def one_component(d, t, palette):
    """The palette with a component missing or held."""
    c = t["component"]
    if d.kind == "attr":
        rgb = d.palette.copy()
        i = ("red", "green", "blue").index(c)
        rgb[:, i] = np.repeat([.85, 1.0], 8) if t["level"] else 0
        return displays.ycc(rgb)
    out = palette.copy()
    i = ("luma", "cb", "cr").index(c)
    out[:, i] = t["held"]
    return out


def shown(r):
    return r[1][r[0]]


def share(a, b):
    """Part of the pixels in which two rasters differ visibly."""
    return float((np.abs(shown(a) - shown(b)).max(-1) > .02).mean())
