"""Draws a fault of each kind: its place and its strength."""
import numpy as np

KINDS = {
    "ram-bit": ["data-bit-stuck", "data-bit-weak", "address-line-stuck", "row-dead", "column-dead", "refresh-loss", "supply-or-all-lanes"],
    "video-logic": ["colour-path", "border-latch", "cell-fetch", "line-counter", "cell-snow", "shift-register", "blank-picture", "flash-dead",
                    "character-generator"],
    "signal": ["no-signal", "sync-weak", "noise", "hum", "ringing", "low-bandwidth", "ghost", "fixed-bars", "colour-lost", "hue-shift",
               "level-high", "level-low", "clipping", "interference"],
    "cpu-side": ["power-up-pattern"],
}
CLASS = {k: c for c, ks in KINDS.items() for k in ks}
ALL = list(CLASS)
NEEDS_REFERENCE = {"border-latch", "flash-dead"}


def pick(r, low, high, subtle, subtle_low, subtle_high):
    """Evenly in the logarithm."""
    a, b = (subtle_low, subtle_high) if subtle else (low, high)
    return float(np.exp(r.uniform(np.log(a), np.log(b))))


def draw(kind, m, r, subtle, fields):
    """A fault of this kind for machine m; keys with a leading _ are the generator's own."""
    p, s = m.p, m.screen
    cls = CLASS[kind]
    f = {"class": cls, "kind": kind}
    q = f["_q"] = {}
    columns = p.w // 8
    size = len(s["mem"])
    colour = p.text and cls == "ram-bit" and kind not in ("row-dead", "column-dead", "refresh-loss", "supply-or-all-lanes") and r.random() < 0.2
    if p.text and cls == "ram-bit":
        f["memory"] = "colour" if colour else "screen"
    bits = 4 if colour else 8
    if kind == "data-bit-stuck":
        f["bit"], f["level"] = int(r.integers(bits)), int(r.integers(2))
    elif kind == "data-bit-weak":
        f["bit"] = int(r.integers(bits))
        q["level"] = int(r.integers(2))
        q["moving"] = bool(r.random() < 0.7)
        q["rate"] = pick(r, 0.08, 0.7, subtle, 0.01, 0.05) if q["moving"] else 1
        q["steady"] = bool(r.random() < 0.6)
        q["gate"] = [float(v) for v in r.choice([0, 1, 1], 64)]
        share = pick(r, 0.1, 0.7, subtle, 0.02, 0.08) if not q["moving"] else (1 if r.random() < 0.6 else float(r.uniform(0.2, 0.6)))
        q["where"] = r.random(size) < share
        q["share"] = share
    elif kind == "address-line-stuck":
        f["level"] = int(r.integers(2))
        k = int(r.integers(10 if p.text else 13))
        pin = not p.text and r.random() < 0.45
        f["lines"] = [k % 7, k % 7 + 7] if pin else [k]
        f["line"] = f["lines"][0]
        f["lanes"] = list(range(bits)) if colour or r.random() < 0.5 else [int(r.integers(bits))]
    elif kind == "row-dead":
        f["bit"], f["row"] = int(r.integers(8)), int(r.integers(128))
        q["level"] = int(r.integers(2))
    elif kind == "column-dead":
        f["bit"], f["column"] = int(r.integers(8)), int(r.integers(8 if p.text else 54))
        q["level"] = int(r.integers(2))
    elif kind == "refresh-loss":
        n = int(r.choice([1, 1, 2, 8]))
        f["lanes"] = sorted(int(b) for b in r.choice(8, n, replace=False))
        q["moving"] = True
        q["time"], q["rest"] = {}, {}
        share = pick(r, 0.25, 0.9, subtle, 0.06, 0.2)
        for b in f["lanes"]:  # a row holds for so many fields, its cells not quite as long as each other
            row = r.uniform(-0.5 * fields, fields, 128)
            row[r.random(128) > share] = 1e9
            a = np.arange(size)
            q["time"][b] = row[a & 127] + r.normal(0, 2.5, size)
            q["rest"][b] = ((a >> 6 & 1) ^ int(r.integers(2))).astype(np.uint8) if r.random() < 0.5 else np.full(size, int(r.integers(2)), np.uint8)
        q["share"] = share
    elif kind == "supply-or-all-lanes":
        n = int(r.integers(6, 9))
        f["lanes"] = sorted(int(b) for b in r.choice(8, n, replace=False))
        q["moving"] = True
        base = pick(r, 0.06, 0.4, subtle, 0.02, 0.05)
        q["rate"] = {b: float(base * r.uniform(0.6, 1.5)) for b in f["lanes"]}
        level = int(r.integers(2))
        q["level"] = {b: level if r.random() < 0.7 else 1 - level for b in f["lanes"]}
        q["gate"] = [float(v) for v in r.uniform(0.3, 1.5, 64)]
    elif kind == "colour-path":
        f["component"] = str(r.choice(["luma", "cb", "cr"] if p.text else ["green", "red", "blue"], p=[0.2, 0.4, 0.4] if p.text else None))
        f["level"] = 0 if p.text else int(r.random() < 0.4)
        q["value"] = 0.0
    elif kind == "border-latch":
        f["expected"] = int(s["border"])
        f["seen"] = int(r.choice([c for c in range(16 if p.text else 8) if c != s["border"]]))
    elif kind == "cell-fetch":
        which = str(r.choice(["odd", "even", "after", "colour-shift"]))
        c = np.arange(columns)
        if which == "colour-shift":
            f["columns"] = which
            q["step"] = int(r.choice([-1, 1]))
        else:
            n = int(r.integers(4, columns - 4))
            f["columns"] = which if which != "after" else f"after {n}"
            q["bad"] = c % 2 == 1 if which == "odd" else c % 2 == 0 if which == "even" else c >= n
            q["mode"] = "stale" if r.random() < 0.6 else "floating"
            q["from"] = (c ^ 1) if which != "after" else np.minimum(c, n - 1)
            q["value"] = int(r.choice([255, 255, 0]))
            q["colours"] = bool(q["mode"] == "stale" or r.random() < 0.7)
            q["rate"] = 1 if r.random() < 0.4 else pick(r, 0.2, 0.8, subtle, 0.03, 0.1)
            q["moving"] = q["rate"] < 1
    elif kind == "line-counter":
        f["counter_bit"] = int(r.integers(8))
        q["level"] = int(r.integers(2))
        f["level"] = q["level"]
    elif kind == "cell-snow":
        q["moving"] = True
        q["cells"] = bool(r.random() < 0.5)
        q["rate"] = pick(r, 0.006, 0.06, subtle, 0.001, 0.004)
    elif kind == "shift-register":
        v = np.arange(256)
        mode = str(r.choice(["stage", "late", "tap", "reverse"], p=[0.4, 0.25, 0.25, 0.1]))
        k, level = int(r.integers(2, 7)), int(r.integers(2))
        if mode == "stage":  # what was loaded behind the broken stage never comes out
            m = (1 << k) - 1
            table = (v | m) if level else (v & ~m)
        elif mode == "late":
            table = v >> 1 | (v & 128 if level else 0)
        elif mode == "tap":
            table = (v | 1 << k) if level else (v & ~(1 << k))
        else:
            table = sum((v >> b & 1) << (7 - b) for b in range(8))
        q["table"], q["mode"], q["k"], q["level"] = (table & 255).astype(np.uint8), mode, k, level
    elif kind == "blank-picture":
        q["as_border"] = bool(r.random() < 0.4)
    elif kind == "character-generator":
        mode = str(r.choice(["codes", "bit", "code-line", "row-line"], p=[0.35, 0.3, 0.2, 0.15]))
        q["mode"], q["level"] = mode, int(r.integers(2))
        if mode == "codes":
            used = np.unique(s["mem"][:1000] & (len(m.font) - 1))
            used = used[used != 32] if len(used) > 2 else used
            f["codes"] = sorted(int(v) for v in r.choice(used, min(len(used), int(r.integers(1, 3))), replace=False))
            q["glyph"] = []
            for k in f["codes"]:  # a bit of a few rows, or rows that read as another's
                harm = np.where(r.random(8) < 0.6, 1 << int(r.integers(8)), 0) if r.random() < 0.5 else np.where(r.random(8) < 0.6, r.integers(1, 256, 8), 0)
                q["glyph"].append((m.font[k] ^ harm).astype(np.uint8))
        elif mode == "bit":
            f["bit"] = int(r.integers(8))
        else:
            q["k"] = int(r.integers(3 if mode == "row-line" else 7 if len(m.font) == 128 else 8))
            f["line"] = q["k"] + (3 if mode == "code-line" else 0)
    elif kind == "power-up-pattern":
        n, a = size, np.arange(size)
        k1, k2 = int(r.integers(0, 3)), int(r.integers(5, 12))
        waking = np.zeros(n, np.uint8)
        noise = pick(r, 0.01, 0.08, False, 1, 1)
        style = r.random()
        for b in range(8):
            base = (a >> k2 & 1) if style < 0.4 else (a >> k1 & 1) if style < 0.7 else (a >> k1 & 1) ^ (a >> k2 & 1)
            if r.random() < 0.25:
                base = 1 - base
            waking |= (((base ^ (r.random(n) < noise)) & 1) << b).astype(np.uint8)
        q["mem"], q["colour"] = waking, (r.integers(0, 16, n) if r.random() < 0.6 else (waking & 15)).astype(np.uint8)
    elif kind == "no-signal":
        q["shows"] = str(r.choice(["snow", "blue", "black", "grey"], p=[0.4, 0.25, 0.25, 0.1]))
    elif kind == "sync-weak":
        q["mode"] = str(r.choice(["roll", "tear", "jitter"]))
        q["roll"] = float(r.choice([-1, 1]) * pick(r, 3, 40, subtle, 0.7, 2))
        q["tear"] = pick(r, 6, 40, subtle, 2.5, 5)
        q["jitter"] = pick(r, 0.9, 4, subtle, 0.4, 0.8) if q["mode"] == "jitter" else pick(r, 0.15, 0.6, False, 1, 1)
    elif kind == "noise":
        q["snr"] = float(r.uniform(27.5, 31) if subtle else r.uniform(17, 27))
    elif kind == "hum":
        q["pp"], q["mains"] = pick(r, 0.06, 0.2, subtle, 0.025, 0.05), 1 if r.random() < 0.6 else 2
        q["phase"] = float(r.uniform(0, 2 * np.pi))
    elif kind == "ringing":
        q["f0"], q["q"] = float(r.uniform(1.6e6, 3.2e6)), pick(r, 1.6, 4, subtle, 1.05, 1.4)
    elif kind == "low-bandwidth":
        q["fc"] = pick(r, 0.45e6, 1.0e6, subtle, 1.0e6, 1.4e6)
        q["order"] = 1
    elif kind == "ghost":
        q["delay"], q["amount"] = float(r.uniform(0.35e-6, 2.5e-6)), float(r.choice([-1, 1, 1])) * pick(r, 0.14, 0.4, subtle, 0.08, 0.13)
    elif kind == "fixed-bars":
        f["period_px"] = float(r.choice([4, 8, 16, 8]))
        q["pp"], q["phase"] = pick(r, 0.04, 0.16, subtle, 0.02, 0.035), float(r.uniform(0, 2 * np.pi))
        q["harmonic"] = float(r.uniform(0, 0.4)) if f["period_px"] > 4 else 0.0
    elif kind == "colour-lost":
        q["trap"] = bool(r.random() < 0.5)
    elif kind == "hue-shift":
        f["degrees"] = float(r.choice([-1, 1]) * pick(r, 25, 100, subtle, 14, 24))
    elif kind == "level-high":
        q["gain"], q["burst"] = pick(r, 1.3, 1.7, subtle, 1.17, 1.28), bool(r.random() < 0.5)
    elif kind == "level-low":
        q["gain"], q["burst"] = pick(r, 0.35, 0.65, subtle, 0.66, 0.78), bool(r.random() < 0.5)
    elif kind == "clipping":
        q["at"] = float(r.uniform(0.7, 0.8) if subtle else r.uniform(0.45, 0.7))
    elif kind == "interference":
        while True:
            hz = pick(r, 0.3e6, 5.0e6, False, 1, 1)
            if abs(hz - p.subcarrier) > 1.0e6 and (p.pal or hz < 4.3e6) and abs(hz / p.line_rate - round(hz / p.line_rate)) > 0.06:
                break
        f["frequency_hz"] = hz
        q["pp"], q["phase"] = pick(r, 0.06, 0.25, subtle, 0.03, 0.055), float(r.uniform(0, 6.28))
    return f
