"""Memory to raster: the reads, the counters, the shifter, the generator, the border, each where a fault can sit."""
import numpy as np

from screens import bitmap_address


class Machine:
    def __init__(self, profile, screen, font, seed):
        self.p, self.screen, self.font, self.seed = profile, screen, font, seed

    # ---- one lane's read
    def read(self, mem, addr, faults, field, salt, memory="screen"):
        """Bytes of mem at addr as the video logic gets them; addr has a row a raster line."""
        size = len(mem) - 1
        value = mem[addr]
        faults = [f for f in faults if f["class"] == "ram-bit" and f.get("memory", "screen") == memory]
        for f in faults:
            if f["kind"] == "address-line-stuck":
                mask = sum(1 << k for k in f["lines"])
                other = (addr | mask) if f["level"] else (addr & ~mask)
                lanes = sum(1 << b for b in f["lanes"])
                value = (value & (255 - lanes)) | (mem[other & size] & lanes)
        for f in faults:
            kind, q = f["kind"], f.get("_q", {})
            if kind == "data-bit-stuck":
                value = self.force(value, np.True_, 1 << f["bit"], f["level"])
            elif kind == "data-bit-weak":
                where = q["where"][addr]
                if q["rate"] < 1:
                    where = where & (self.chance(addr.shape, field, salt + 1) < q["rate"] * (1 if q["steady"] else q["gate"][field % len(q["gate"])]))
                value = self.force(value, where, 1 << f["bit"], q["level"])
            elif kind == "row-dead":
                value = self.force(value, (addr & 127) == f["row"], 1 << f["bit"], q["level"])
            elif kind == "column-dead":
                value = self.force(value, (addr >> 7 & 127) == f["column"], 1 << f["bit"], q["level"])
            elif kind == "refresh-loss":
                for b in f["lanes"]:
                    gone = field >= q["time"][b][addr & (len(q["time"][b]) - 1)]
                    value = np.where(gone, (value & (255 - (1 << b))) | (q["rest"][b][addr] << b).astype(np.uint8), value)
            elif kind == "supply-or-all-lanes":
                for b in f["lanes"]:
                    rate = q["rate"][b] * q["gate"][field % len(q["gate"])]
                    where = self.chance(addr.shape, field, salt + 20 + b) < rate
                    value = self.force(value, where, 1 << b, q["level"][b])
        return value

    @staticmethod
    def force(value, where, mask, level):
        return np.where(where, value | mask if level else value & (255 - mask), value).astype(np.uint8)

    def chance(self, shape, field, salt):
        r = np.random.default_rng([self.seed, field + 1, salt])
        if self.p.text and shape[0] == 200:  # a code is fetched once for its eight lines
            return np.repeat(r.random((25, shape[1])), 8, 0)
        return r.random(shape)

    # ---- the raster
    def key(self, faults, field):
        """Fields of one key show one picture."""
        moving = any(f.get("_q", {}).get("moving") for f in faults)
        return field if moving else (field // 16) % 2 if not self.p.text else 0

    def raster(self, faults, field):
        """Colour index of each pixel of the part seen, (rows, columns) bytes."""
        p, s = self.p, self.screen
        by = {f["kind"]: f for f in faults}
        mem = by["power-up-pattern"]["_q"]["mem"] if "power-up-pattern" in by else s["mem"]
        y, columns = np.arange(p.h), np.arange(p.w // 8)
        if "line-counter" in by:
            f = by["line-counter"]
            y = (y | 1 << f["counter_bit"]) if f["_q"]["level"] else (y & ~(1 << f["counter_bit"]))
        c = columns.copy()
        fetch = by.get("cell-fetch")
        bad = None
        colour_c = c
        if fetch:
            q = fetch["_q"]
            if fetch["columns"] == "colour-shift":
                colour_c = np.clip(c + q["step"], 0, len(c) - 1)
            else:
                bad = q["bad"]
        yy, cc, kk = y[:, None], c[None, :], colour_c[None, :]
        if p.text:
            address, colour_address = (yy >> 3) * 40 + cc, (yy >> 3) * 40 + kk
            data = self.read(mem, address, faults, field, 100)
            cmem = by["power-up-pattern"]["_q"]["colour"] if "power-up-pattern" in by else s["colour"]
            colour = self.read(cmem, colour_address, faults, field, 200, "colour") & 15
        else:
            address, colour_address = bitmap_address(yy, cc), 6144 + 32 * (yy >> 3) + kk
            data = self.read(mem, address, faults, field, 100)
            colour = self.read(mem, colour_address, faults, field, 200)
        if bad is not None:
            q = fetch["_q"]
            active = self.chance(address.shape, field, 300) < q["rate"] if q["rate"] < 1 else np.ones(address.shape, bool)
            active = active & bad[None, :]
            if q["mode"] == "stale":
                wrong, cwrong = data[:, q["from"]], colour[:, q["from"]]
            else:
                wrong, cwrong = np.full_like(data, q["value"]), np.full_like(colour, q["value"] & (15 if p.text else 255))
            data, colour = np.where(active, wrong, data), np.where(active & q["colours"], cwrong, colour)
        if "cell-snow" in by:
            q = by["cell-snow"]["_q"]
            r = np.random.default_rng([self.seed, field + 1, 400])
            shape = (p.h, len(c))
            if p.text or q["cells"]:
                hit = np.repeat(r.random((p.h // 8, len(c))) < q["rate"], 8, 0)
                noise = np.repeat(r.integers(0, 256, (p.h // 8, len(c))), 8, 0).astype(np.uint8)
            else:
                hit, noise = r.random(shape) < q["rate"], r.integers(0, 256, shape).astype(np.uint8)
            if p.text or not q["cells"]:
                data = np.where(hit, noise, data)
            if q["cells"] and not p.text:
                data = np.where(hit, r.integers(0, 256, shape).astype(np.uint8), data)
                colour = np.where(hit, noise, colour)
        if p.text:
            data = self.glyphs(data, y & 7, by.get("character-generator"))
        if "shift-register" in by:
            q = by["shift-register"]["_q"]
            data = q["table"][data]
        bits = np.unpackbits(data[:, :, None], axis=2)
        if p.text:
            ink, paper = colour[:, :, None], np.uint8(s["bg"])
        else:
            ink = (colour & 7 | colour >> 3 & 8)[:, :, None]
            paper = (colour >> 3 & 15)[:, :, None]
            if "flash-dead" not in by and (field // 16) % 2:
                bits = bits ^ (colour >> 7)[:, :, None]
        picture = np.where(bits, ink, paper).reshape(p.h, p.w)
        border = by["border-latch"]["seen"] if "border-latch" in by else s["border"]
        if "blank-picture" in by:
            picture = np.full_like(picture, border if by["blank-picture"]["_q"]["as_border"] else 0)
        out = np.full((p.above + p.h + p.below, p.left + p.w + p.right), border, np.uint8)
        out[p.above:p.above + p.h, p.left:p.left + p.w] = picture
        if not p.text:
            out = np.where(out == 8, 0, out).astype(np.uint8)
            for f in faults:
                if f["kind"] == "colour-path":
                    m = {"green": 4, "red": 2, "blue": 1}[f["component"]]
                    out = (out | m if f["level"] else out & (15 - m)).astype(np.uint8)
                    out = np.where(out == 8, 0, out).astype(np.uint8)
        return out

    def glyphs(self, code, line, f):
        font = self.font
        inverse = None
        if len(font) == 128:
            inverse, code = (code >> 7).astype(bool), code & 127
        if f:
            q = f["_q"]
            if q["mode"] == "codes":
                font = font.copy()
                for k, glyph in zip(f["codes"], q["glyph"]):
                    font[k] = glyph
            elif q["mode"] == "code-line":
                code = (code | 1 << q["k"]) if q["level"] else (code & (255 - (1 << q["k"])))
            elif q["mode"] == "row-line":
                line = (line | 1 << q["k"]) if q["level"] else (line & ~(1 << q["k"]))
        out = font[code, line[:, None]]
        if f and f["_q"]["mode"] == "bit":
            m = 1 << f["bit"]
            out = (out | m if f["_q"]["level"] else out & (255 - m)).astype(np.uint8)
        if inverse is not None:
            out = np.where(inverse, 255 - out, out).astype(np.uint8)
        return out

    def palette(self, faults, pal):
        """The colours after a text display's colour path."""
        out = [list(v) for v in pal]
        if self.p.text:
            for f in faults:
                if f["kind"] == "colour-path":
                    k = {"luma": 0, "cb": 1, "cr": 2}[f["component"]]
                    for v in out:
                        v[k] = f["_q"]["value"]
        return [tuple(v) for v in out]
