"""Other faults that give the very same picture, found by trying them."""
import numpy as np

import faults
from machine import SHIFTS, Machine

STILL = ("data-bit-stuck", "address-line-stuck", "row-dead", "column-dead", "line-counter", "cell-fetch", "shift-register", "colour-path",
         "character-generator", "blank-picture")


def _fault(kind, hidden=None, **keys):
    return {"class": faults.CLASS_OF[kind], "kind": kind, "_": hidden or {}, **keys}


def candidates(d, like):
    """Plain faults of every still kind, those of the same lanes as a given one among them."""
    for bit in range(8):
        for level in (0, 1):
            yield _fault("data-bit-stuck", bit=bit, level=level, memory="screen")
            yield _fault("line-counter", counter_bit=bit, level=level)
            if not d.attr and bit < 4:
                yield _fault("data-bit-stuck", bit=bit, level=level, memory="colour")
    lanes = [list(range(8))] + ([like["lanes"]] if like.get("lanes") and len(like["lanes"]) < 8 else [])
    memory = like.get("memory", "screen")
    for which in lanes:
        for level in (0, 1):
            lines = [[k] for k in range(13 if d.attr else 10)] + [[k, k + 7] for k in range(6 if d.attr else 3)]
            for some in lines:
                yield _fault("address-line-stuck", lines=some, lanes=which, level=level, memory=memory)
    for component, hidden in (("green", {}), ("red", {}), ("blue", {})) if d.attr else (("cb", {"value": 0.0}), ("cr", {"value": 0.0})):
        for level in (0, 1) if d.attr else (0,):
            yield _fault("colour-path", hidden, component=component, level=level)
    for how in SHIFTS:
        yield _fault("shift-register", {"how": how})
    for columns in ("odd", "even") + ((like["columns"],) if str(like.get("columns")).startswith("after") else ()):
        for gives in ("byte", "left", "right"):
            for byte in (0, 255):
                yield _fault("cell-fetch", {"gives": gives, "byte": byte, "flicker": 0}, columns=columns)
    for by in (-1, 1):
        yield _fault("cell-fetch", {"by": by, "flicker": 0}, columns="colour-shift")
    for shade in ("border", 0):
        yield _fault("blank-picture", {"as": shade})
    if not d.attr:
        for line in range(3, 11):
            for level in (0, 1):
                yield _fault("character-generator", {"how": "address", "level": level}, line=line)
        for bit in range(8):
            for level in (0, 1):
                yield _fault("character-generator", {"how": "bit", "level": level}, bit=bit)


def find(d, screen, fault, seed, first):
    """Rivals of other kinds, and whether one of the same kind with other particulars gives the same picture too."""
    if fault["kind"] not in STILL or fault["_"].get("flicker"):
        return [], False
    true = Machine(d, screen, [fault], seed, first)
    seen, lut = true.raster(0), true.lut()
    shown, later = lut[seen], None
    out, double = [], False
    for c in candidates(d, fault):
        plain = {k: v for k, v in c.items() if k not in ("_", "class")}
        if c["kind"] == fault["kind"] and all(fault.get(k) == v for k, v in plain.items()):
            continue
        m = Machine(d, screen, [c], seed, first)
        idx = m.raster(0)
        if c["kind"] != "colour-path" and fault["kind"] != "colour-path":
            alike = np.array_equal(idx, seen)
        else:
            alike = np.array_equal(m.lut()[idx], shown)
        if alike and d.attr:  # the other phase of flashing must be alike too
            later = true.picture(16) if later is None else later
            alike = np.array_equal(m.picture(16), later)
        if alike and c["kind"] == fault["kind"]:
            double = True
        elif alike:
            out.append(plain)
    return out, double
