"""Other faults that give the very same picture; and keys of a fault that its picture does not fix."""
import numpy as np


def candidates(m):
    """Steady faults that another one could be taken for."""
    d = m.d
    ram = lambda kind, **k: dict({"class": "ram-bit", "kind": kind, "made": {}, "_id": 99}, **k)
    logic = lambda kind, made=None, **k: dict({"class": "video-logic", "kind": kind, "made": made or {}, "_id": 99}, **k)
    for level in (0, 1):
        for bit in range(8):
            yield ram("data-bit-stuck", bit=bit, level=level)
            yield logic("line-counter", counter_bit=bit, level=level)
            yield logic("shift-register", {"way": "stage", "pixel": 7 - bit, "level": level})
            if d.kind == "text":
                yield logic("character-generator", {"level": level}, bit=bit)
                if bit < 4:
                    yield ram("data-bit-stuck", memory="colour", bit=bit, level=level)
        if d.kind == "text":
            for line in range(11):
                yield logic("character-generator", {"level": level}, line=line)
        for k in range(13):
            for lines in [[k]] + ([[k, k + 7]] if k < 7 else []):
                yield ram("address-line-stuck", lines=lines, level=level, lanes=list(range(8)), made={"lines": lines})
    for c in ("green", "red", "blue") if d.kind == "attr" else ("luma", "cb", "cr"):
        for level in (0, 1) if d.kind == "attr" else (0,):
            yield logic("colour-path", component=c, level=level)
    for way in ("late", "pairs"):
        yield logic("shift-register", {"way": way})


def view(m, f):
    """Two fields, one in each half of the flash."""
    out = []
    for k in (0, 16):
        r, p = m.raster([f], k)
        out.append(p[r].astype(np.float32))
    return out


def find(f, m):
    """Fills in `rivals`, and null for keys that the picture leaves open."""
    if f["class"] not in ("ram-bit", "video-logic") or "_runs" in f or not f["visible"] or f["kind"] in (
            "data-bit-weak", "refresh-loss", "supply-or-all-lanes", "cell-snow", "cell-fetch", "border-latch", "flash-dead", "blank-picture"):
        return
    mine = view(m, f)
    for g in candidates(m):
        if g["kind"] == "address-line-stuck" and f["kind"] == g["kind"]:
            g["lanes"] = f["lanes"]
        other = m.raster([g], 0)
        if not np.array_equal(other[1][other[0]].astype(np.float32), mine[0]) or not np.array_equal(view(m, g)[1], mine[1]):
            continue
        if g["kind"] != f["kind"]:
            r = {k: v for k, v in g.items() if k not in ("made", "_id")}
            f.setdefault("rivals", []).append(r)
            continue
        for key in ("bit", "level", "lines", "counter_bit", "component", "line"):
            if key in g and key in f and f[key] != g[key]:
                f["made"].setdefault("true_" + key, f[key])
                f[key] = None
