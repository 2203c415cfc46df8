"""The machine: display memory read out to the raster, field by field.

Every fault sits where it would sit: at a chip's address or data pin, in the fetch, the
counter, the shifter, the character generator, the palette or the border latch."""
import numpy as np

from profiles import BLANK, SYNC, BURST, palette
from screens import bitmap_address


class Machine:
    def __init__(self, p, screen, faults=(), seed=0, flash_phase=0):
        self.p, self.s, self.seed, self.flash_phase = p, screen, seed, flash_phase
        self.f = [f for f in faults if f["class"] != "signal"]
        self.lut = palette(p, [(f["component"], f["level"]) for f in self.f if f["kind"] == "colour-path"])
        self.frame = self.raster_template()
        self.rom = self.generator()

    def has(self, kind):
        return [f for f in self.f if f["kind"] == kind]

    def raster_template(self):
        p = self.p
        t = np.full((p.lines, p.n), BLANK, np.uint8)
        t[:, :p.sync_w] = SYNC
        t[:, p.burst[0]:p.burst[1]] = BURST
        t[:3, :p.n - p.sync_w] = SYNC                 # one long field pulse, serrated
        t[:9, p.burst[0]:p.burst[1]] = np.where(t[:9, p.burst[0]:p.burst[1]] == BURST, BLANK,
                                                t[:9, p.burst[0]:p.burst[1]])
        return t

    # -- memory ---------------------------------------------------------
    def stored(self, field, rng):
        """What the cells hold now: software's screen, less what has leaked away."""
        m = self.s.mem
        c = self.s.cursor
        if c is not None and field // c[1] & 1:
            m = m.copy()
            m[c[0]] ^= 128
        for f in self.has("refresh-loss"):
            a = np.arange(16384)
            r = np.random.default_rng(f["_seed"])
            rows = f["_start"] + r.permutation(128) * f["_step"] if f["_shuffle"] else \
                f["_start"] + np.arange(128) * f["_step"]
            m = m.copy()
            for b in f["lanes"]:
                hold = rows[a & 127] * r.lognormal(0, f["_spread"], 16384) + f["_late"]
                gone = (field + f["_age"]) > hold
                to = (a >> f["_cells"] & 1) ^ f["_pol"]
                m = np.where(gone, (m & ~np.uint8(1 << b)) | (to << b).astype(np.uint8), m).astype(np.uint8)
        return m

    def read(self, m, addr, field, rng, memory="screen"):
        """Bytes that arrive from addresses, through the chips' pins."""
        size = len(m) - 1
        v = m[addr & size]
        for f in self.f:
            if f.get("memory", "screen") != memory:
                continue
            k = f["kind"]
            if k == "address-line-stuck":
                mask = sum(1 << n for n in f["lines"])
                a2 = (addr | mask if f["level"] else addr & ~mask) & size
                lanes = np.uint8(sum(1 << b for b in f["lanes"]))
                v = (v & ~lanes) | (m[a2] & lanes)
        for f in self.f:
            if f.get("memory", "screen") != memory:
                continue
            k = f["kind"]
            if k in ("data-bit-stuck", "row-dead", "column-dead"):
                hit = np.ones(addr.shape, bool)
                if k == "row-dead":
                    hit = (addr & 127) == f["row"]
                elif k == "column-dead":
                    hit = (addr >> 7 & 127) == f["column"]
                v = self.force(v, hit, f["bit"], f["level"])
            elif k == "data-bit-weak":
                v = self.weak(v, addr, f, field, rng)
            elif k == "supply-or-all-lanes":
                v = self.supply(v, addr, f, rng)
        return v

    @staticmethod
    def force(v, hit, bit, level):
        b = np.uint8(1 << bit)
        return np.where(hit, v | b if level else v & ~b, v).astype(np.uint8)

    def weak(self, v, addr, f, field, rng):
        mode = f["_mode"]
        if mode == "addresses":
            hit = (np.random.default_rng(f["_seed"]).random(16384) < f["_rate"])[addr]
        elif mode == "fields":
            if f["_draw"][field % len(f["_draw"])] > f["_rate"]:
                return v
            hit = np.ones(addr.shape, bool)
        else:
            # A text display fetches a code once a row: all its lines get the same read.
            hit = (rng.random(16384) < f["_rate"])[addr] if self.p.text else rng.random(addr.shape) < f["_rate"]
        return self.force(v, hit, f["bit"], f["level"])

    def supply(self, v, addr, f, rng):
        rate = f["_rate"] * rng.uniform(.2, 1.8)
        for b in f["lanes"]:
            burst = rng.random(128)[addr & 127] < .5
            draw = rng.random(16384)[addr] if self.p.text else rng.random(addr.shape)
            hit = draw < rate * (.4 + 1.2 * burst)
            v = self.force(v, hit, b, f["_to"][b])
        return v

    def generator(self):
        if not self.p.text:
            return None
        rom = self.s.rom.reshape(-1).copy()
        for f in self.has("character-generator"):
            if f.get("codes"):
                r = np.random.default_rng(f["_seed"])
                for c in f["codes"]:
                    rom[c * 8:c * 8 + 8] = rom[c * 8:c * 8 + 8] ^ r.integers(1, 256, 8).astype(np.uint8)
            elif f.get("bit") is not None:
                rom = self.force(rom, np.ones(rom.shape, bool), f["bit"], f["level"])
            else:
                a = np.arange(2048)
                k = 1 << f["line"]
                rom = rom[a | k if f["level"] else a & ~k]
        return rom

    # -- the raster -----------------------------------------------------
    def field(self, n):
        """Palette indices (lines, pixel periods) of machine field n."""
        p, s = self.p, self.s
        rng = np.random.default_rng([self.seed, n, 77])
        y, c = np.indices((p.h, p.cols))
        for f in self.has("line-counter"):
            k = 1 << f["counter_bit"]
            y = y | k if f["level"] else y & ~k
        m = self.stored(n, rng)
        if p.text:
            px, ink, paper = self.text_cells(m, y, c, n, rng)
        else:
            px, ink, paper = self.attr_cells(m, y, c, n, rng)
        pic = np.where(px, ink.repeat(8, 1), paper.repeat(8, 1)).astype(np.uint8)
        border = s.border
        for f in self.has("border-latch"):
            if f["_draw"][n % len(f["_draw"])] < f["_share"]:
                border = f["seen"]
        for f in self.has("blank-picture"):
            pic[:] = border if f["_shows"] == "border" else 0
        out = self.frame.copy()
        seen_h = p.h + 2 * p.by
        out[p.top:p.top + seen_h, p.left:p.left + p.w + 2 * p.bx] = border
        x0, y0 = p.left + p.bx, p.top + p.by
        out[y0:y0 + p.h, x0:x0 + p.w] = pic
        return out

    def attr_cells(self, m, y, c, n, rng):
        bm = self.read(m, bitmap_address(y, c) & 16383, n, rng)
        at = self.read(m, (6144 + 32 * (y >> 3) + c) & 16383, n, rng)
        bm, at = self.fetch(bm, at, n, rng)
        px = self.shift(bm)
        phase = (n + self.flash_phase) // 16 & 1
        if self.has("flash-dead"):
            phase = 0
        swap = (at >> 7 & phase).astype(bool)
        bright = at >> 3 & 8
        ink, paper = bright | at & 7, bright | at >> 3 & 7
        ink, paper = np.where(swap, paper, ink), np.where(swap, ink, paper)
        return px, ink, paper

    def text_cells(self, m, y, c, n, rng):
        addr = (y >> 3) * 40 + c & 1023
        codes = self.read(m, addr, n, rng)
        col = self.read(self.s.colour, addr, n, rng, "colour") & 15
        codes, col = self.fetch(codes, col, n, rng)
        bits = self.rom[codes.astype(int) * 8 + (y & 7)]
        px = self.shift(bits)
        return px, col, np.full_like(col, self.s.background)

    def fetch(self, a, b, n, rng):
        """Video logic's own reading of the two bytes of each cell (lines x columns)."""
        cols = np.arange(a.shape[1])
        for f in self.has("cell-fetch"):
            if f["_draw"][n % len(f["_draw"])] > f["_share"]:
                continue
            if f["columns"] == "colour-shift":
                b = np.roll(b, f["_shift"], 1)
                continue
            sel = {"odd": cols % 2 == 1, "even": cols % 2 == 0}.get(f["columns"])
            if sel is None:
                sel = cols > int(f["columns"].split()[1])
            hit = sel[None, :] & (rng.random(a.shape) < f["_rate"] if f["_rate"] < 1 else True)
            if f["_fetches"] == "previous":
                ra, rb = np.roll(a, 1, 1), np.roll(b, 1, 1)
            elif f["_fetches"] == "held":
                k = int(f["columns"].split()[1]) if sel[-1] and not sel[0] and " " in f["columns"] else 0
                ra, rb = a[:, k:k + 1] + 0 * a, b[:, k:k + 1] + 0 * b
            else:
                ra, rb = np.full_like(a, f["_bus"]), np.full_like(b, f["_bus"])
            a, b = np.where(hit, ra, a), np.where(hit, rb, b)
        for f in self.has("cell-snow"):
            if self.p.text:                          # a code is held for all lines of its row
                hit = (rng.random((25, 40)) < f["_rate"]).repeat(8, 0)
                junk = rng.integers(0, 256, (25, 40)).repeat(8, 0)
                a = np.where(hit, junk, a).astype(np.uint8)
            else:
                for one in (0, 1):
                    hit = rng.random(a.shape) < f["_rate"]
                    if f["_whole"]:
                        hit = hit[::8].repeat(8, 0)
                    v = np.where(hit, rng.integers(0, 256, a.shape), b if one else a).astype(np.uint8)
                    a, b = (a, v) if one else (v, b)
        return a, (b & 15 if self.p.text else b)

    def shift(self, bits):
        px = np.unpackbits(np.ascontiguousarray(bits.astype(np.uint8))[:, :, None], axis=2).astype(bool)
        for f in self.has("shift-register"):
            m = f["_mode"]
            if m == "tap":
                px[:, :, f["_tap"]] = bool(f["level"])
            elif m == "reversed":
                px = px[:, :, ::-1]
            elif m == "late":                        # loaded a pixel late: the last one lasts
                flat = px.reshape(len(px), -1)
                px = np.roll(flat, f["_by"], 1).reshape(px.shape)
            elif m == "paired":
                px = px[:, :, ::2].repeat(2, 2)
            else:                                    # serial output stands still half way
                px[:, :, f["_tap"]:] = px[:, :, f["_tap"]:f["_tap"] + 1]
        return px.reshape(len(px), -1)
