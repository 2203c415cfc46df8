"""From memory to a raster of colour indices, with faults of memory and of the video logic where they sit."""
import numpy as np

import profiles

FLASH_FIELDS = 16


class Machine:
    """A display machine that shows a screen; faults are dicts of faults.py with their hidden particulars under '_'."""

    def __init__(self, display, screen, faults=(), seed=0, first_field=0):
        self.d, self.s, self.faults, self.seed, self.first = display, screen, list(faults), seed, first_field
        rows, cols = display.height, display.width // 8
        self.y, self.c = np.mgrid[:rows, :cols]

    def _rng(self, n):
        return np.random.default_rng([self.seed, 77, n])

    def read(self, address, n, which="screen"):
        """The bytes at some addresses as the display gets them in field n."""
        mem = self.s.mem if which == "screen" else self.s.colour
        if self.s.blink and which == "screen" and (self.first + n) // self.s.blink["fields"] & 1:
            mem = mem.copy()
            mem[self.s.blink["address"]] = self.s.blink["code"]
        value = mem[address & (mem.size - 1)]
        for f in self.faults:
            if f["class"] == "ram-bit" and f.get("memory", "screen") == which:
                value = self._memory(f, mem, address & (mem.size - 1), value, n)
        return value

    def _memory(self, f, mem, a, v, n):
        kind, p = f["kind"], f["_"]
        if kind == "data-bit-stuck":
            m = np.uint8(1 << f["bit"])
            return v | m if f["level"] else v & ~m
        if kind == "data-bit-weak":
            m = np.uint8(1 << f["bit"])
            if p["mode"] == "addresses":
                hit = p["map"][a]
                return np.where(hit, (v & ~m) | (m if p["to"] else 0), v).astype(np.uint8)
            rate = p["rate"] * (1 + 0.8 * np.sin(0.7 * n + p["phase"]))
            hit = self._rng(n).random(a.shape) < rate
            if p["to"] == 2:
                return np.where(hit, v ^ m, v).astype(np.uint8)
            return np.where(hit, (v & ~m) | (m if p["to"] else 0), v).astype(np.uint8)
        if kind == "address-line-stuck":
            k = sum(1 << line for line in f["lines"])
            other = mem[((a | k) if f["level"] else (a & ~k)) & (mem.size - 1)]
            m = np.uint8(sum(1 << b for b in f["lanes"]))
            return (v & ~m) | (other & m)
        if kind in ("row-dead", "column-dead"):
            m = np.uint8(1 << f["bit"])
            hit = (a & 127) == f["row"] if kind == "row-dead" else (a >> 7) == f["column"]
            new = (v & ~m) | (m * p["map"][a]).astype(np.uint8)
            return np.where(hit, new, v).astype(np.uint8)
        if kind == "refresh-loss":
            for b in f["lanes"]:
                gone = p["due"][b][a] < n
                m = np.uint8(1 << b)
                v = np.where(gone, (v & ~m) | (m * p["ground"][b][a]), v).astype(np.uint8)
            return v
        if kind == "supply-or-all-lanes":
            r = self._rng(n)
            wave = 0.5 + 0.5 * np.sin(0.9 * n + p["phase"])
            for b in f["lanes"]:
                hit = (p["weak"][b][a] < p["rate"] * wave) | (r.random(a.shape) < 0.25 * p["rate"])
                m = np.uint8(1 << b)
                v = np.where(hit, (v & ~m) | (m * p["to"][b]), v).astype(np.uint8)
            return v
        return v

    def raster(self, n):
        """Indices of the seen raster (border and picture) in field n since the capture began."""
        d, s = self.d, self.s
        y, c = self.y, self.c
        fetch = next((f for f in self.faults if f["kind"] == "cell-fetch"), None)
        for f in self.faults:
            if f["kind"] == "line-counter":
                k = 1 << f["counter_bit"]
                y = y | k if f["level"] else y & ~k
        if d.attr:
            cells = self.read(profiles.bitmap_address(y, c), n)
            if fetch and fetch["columns"] == "colour-shift":
                colours = self.read(profiles.colour_address(y, (c + fetch["_"]["by"]) & 31), n)
            else:
                colours = self.read(profiles.colour_address(y, c), n)
        else:
            where = (y >> 3) * 40 + c
            codes = self.read(where, n)
            shift = fetch["_"]["by"] if fetch and fetch["columns"] == "colour-shift" else 0
            colours = self.read(where + shift, n, "colour")
            if fetch and shift == 0:
                codes = self._fetch(fetch, codes, n)
            codes = self._snow(codes, n)
            cells = self._generator(codes, y & 7)
        if d.attr:
            if fetch and fetch["columns"] != "colour-shift":
                cells, colours = self._fetch(fetch, cells, n), self._fetch(fetch, colours, n)
            cells, colours = self._snow(cells, n), self._snow(colours, n, 1)
        bits = np.unpackbits(cells[..., None].astype(np.uint8), axis=2)
        for f in self.faults:
            if f["kind"] == "shift-register":
                bits = SHIFTS[f["_"]["how"]](bits)
        bits = bits.reshape(d.height, d.width)
        big = np.repeat(colours, 8, axis=1)
        if d.attr:
            ink, paper, bright = big & 7, big >> 3 & 7, big >> 6 & 1
            flash = (big >> 7).astype(bool)
            dead = next((f for f in self.faults if f["kind"] == "flash-dead"), None)
            phase = (self.first + n) // FLASH_FIELDS & 1 if dead is None else dead["_"]["phase"]
            lit = bits.astype(bool) ^ (flash & bool(phase))
            picture = np.where(lit, ink, paper) | bright << 3
        else:
            picture = np.where(bits, big & 15, s.paper)
        border, cover = s.border, None
        for f in self.faults:
            if f["kind"] == "border-latch":
                border = f["seen"]
            if f["kind"] == "blank-picture":
                cover = border if f["_"]["as"] == "border" else f["_"]["as"]
        out = np.full(d.seen, border, np.uint8)
        out[d.top:d.top + d.height, d.left:d.left + d.width] = picture if cover is None else cover
        return out

    def _fetch(self, f, v, n):
        """Cells wrong by their place on the raster; what the bus gives there is fixed, the neighbour's, or unsteady."""
        p, cols = f["_"], np.arange(v.shape[1])
        if f["columns"] == "odd":
            hit = cols % 2 == 1
        elif f["columns"] == "even":
            hit = cols % 2 == 0
        else:
            hit = cols > int(f["columns"].split()[1])
        if p["flicker"] and self._rng(n).random() > p["flicker"]:
            return v
        bad = np.full_like(v, p["byte"]) if p["gives"] == "byte" else np.roll(v, 1 if p["gives"] == "left" else -1, axis=1)
        if p["gives"] == "held":
            bad = np.repeat(v[:, [int(np.argmax(hit)) - 1]], v.shape[1], axis=1)
        return np.where(hit[None, :], bad, v)

    def _snow(self, v, n, plane=0):
        for f in self.faults:
            if f["kind"] == "cell-snow":
                r = np.random.default_rng([self.seed, 5, n, plane])
                count = r.poisson(f["_"]["count"] * (0.2 if plane else 1))
                v = v.copy()
                for _ in range(count):
                    row, col = int(r.integers(v.shape[0])), int(r.integers(v.shape[1]))
                    if plane or not self.d.attr:  # one read serves the eight lines of a cell on text, and is taken so for colour
                        v[row & ~7:(row & ~7) + (8 if not self.d.attr else 1 + int(r.integers(8))), col] = r.integers(256)
                    else:
                        v[row, col] = r.integers(256) if f["_"]["to"] < 0 else f["_"]["to"]
        return v

    def _generator(self, codes, line):
        s = self.s
        glyph = s.font
        for f in self.faults:
            if f["kind"] != "character-generator":
                continue
            glyph = glyph.copy() if f["_"]["how"] != "address" else glyph
            if f["_"]["how"] == "bit":
                m = np.uint8(1 << f["bit"])
                glyph[:] = glyph | m if f["_"]["level"] else glyph & ~m
            elif f["_"]["how"] == "codes":
                for code in f["codes"]:
                    glyph[code] = f["_"]["shapes"][code]
            else:
                k = 1 << f["line"]
                address = (codes.astype(int) << 3) | line
                address = address | k if f["_"]["level"] else address & ~k
                return glyph[address >> 3, address & 7]
        return glyph[codes, line]

    def lut(self):
        """Luma, U, V of each index as this machine makes them."""
        lut = self.d.lut.copy()
        for f in self.faults:
            if f["kind"] == "colour-path":
                if self.d.attr:
                    k = {"blue": 1, "red": 2, "green": 4}[f["component"]]
                    i = np.arange(16)
                    lut = lut[i | k if f["level"] else i & ~k]
                else:
                    lut[:, ("luma", "cb", "cr").index(f["component"])] = f["_"]["value"]
        return lut

    def picture(self, n):
        """The seen raster as luma, U, V; for comparing what two machines show."""
        return self.lut()[self.raster(n)]


SHIFTS = {
    "reversed": lambda b: b[..., ::-1],
    "stuck input": lambda b: np.repeat(b[..., :1], 8, axis=2),
    "late": lambda b: np.concatenate([b[..., :1], b[..., :-1]], axis=2),
    "early": lambda b: np.concatenate([b[..., 1:], 0 * b[..., :1]], axis=2),
    "halves": lambda b: np.concatenate([b[..., :4], b[..., :4]], axis=2),
    "pairs": lambda b: np.repeat(b[..., ::2], 2, axis=2),
    "never loads": lambda b: np.zeros_like(b) + (np.arange(8) > 4).astype(np.uint8),
    "swapped": lambda b: np.concatenate([b[..., 4:], b[..., :4]], axis=2),
}
