"""What software writes on: the two sorts of display memory behind one set of calls."""
import numpy as np

import fonts

# Green, red, blue as bits 2, 1, 0 to the text displays' sixteen colours, light ones.
TO16 = [0, 14, 10, 15, 12, 13, 11, 3]


class Bitmap:
    """256 x 192 with a pair of colours a cell."""
    kind, cols, rows = "attr", 32, 24

    def __init__(self, d, rng, rule, ink, paper, border, bright):
        self.d, self.rng, self.rule, self.ink, self.paper, self.border = d, rng, rule, ink, paper, border
        self.bright = 64 if bright else 0
        self.pix = np.zeros((192, 256), bool)
        self.colour = np.full((24, 32), self.bright | paper << 3 | ink, np.uint8)
        self.rest = None

    def attr(self, ink, paper, flash=False, bright=None):
        b = self.bright if bright is None else 64 * bright
        return b | (self.paper if paper is None else paper) << 3 | (self.ink if ink is None else ink) | 128 * flash

    def cell(self, c, r, g, ink=None, paper=None, flash=False, bright=None):
        if 0 <= c < 32 and 0 <= r < 24:
            self.pix[8 * r:8 * r + 8, 8 * c:8 * c + 8] = g
            self.colour[r, c] = self.attr(ink, paper, flash, bright)

    def put(self, c, r, text, ink=None, paper=None, flash=False, bright=None):
        for i, ch in enumerate(text):
            self.cell(c + i, r, fonts.glyph(ch, self.rule), ink, paper, flash, bright)

    def tile(self, c, r, i, ink=None, paper=None, bright=None):
        self.cell(c, r, fonts.block(i), ink, paper, False, bright)

    def memory(self):
        """The chip's 16384 bytes: bitmap, colour cells, then what programs left."""
        m = np.zeros(16384, np.uint8)
        y, c = np.mgrid[:192, :32]
        m[self.d.bitmap_address(y, c)] = np.packbits(self.pix, axis=1)
        m[6144:6912] = self.colour.ravel()
        m[6912:] = leftovers(self.rng, 16384 - 6912)
        return m


class Codes:
    """40 x 25 codes with a colour nibble each."""
    kind, cols, rows = "text", 40, 25

    def __init__(self, d, rng, sort, ink, paper, border):
        self.d, self.rng, self.sort, self.ink, self.paper, self.border = d, rng, sort, ink, paper, border
        self.codes = np.full((25, 40), 32, np.uint8)
        self.colour = np.full((25, 40), ink, np.uint8)

    def nibble(self, ink):
        if ink is None:
            return self.ink
        k = TO16[ink]
        if k == self.paper:  # nobody writes in the paper's colour
            return self.ink
        return k

    def put(self, c, r, text, ink=None, paper=None, flash=False, bright=None):
        for i, ch in enumerate(text):
            if 0 <= c + i < 40 and 0 <= r < 25:
                code = ord(ch)
                if paper is not None and self.sort == "inverse":
                    code |= 128
                    self.colour[r, c + i] = self.nibble(paper if paper != 0 else ink)
                else:
                    self.colour[r, c + i] = self.nibble(ink)
                self.codes[r, c + i] = code

    def tile(self, c, r, i, ink=None, paper=None, bright=None):
        if 0 <= c < 40 and 0 <= r < 25:
            i %= 64
            if self.sort == "graphics":
                self.codes[r, c] = 128 + i
            else:
                self.codes[r, c] = fonts.low_code(i)
            self.colour[r, c] = self.nibble(ink)

    def memory(self):
        m = np.zeros(16384, np.uint8)
        m[:1000] = self.codes.ravel()
        m[1000:] = leftovers(self.rng, 15384)
        return m


def leftovers(rng, n):
    """Memory beyond the screen: machine code, tables, much of it empty."""
    out = rng.integers(0, 256, n).astype(np.uint8)
    at = 0
    while at < n:
        run = int(rng.integers(64, 1500))
        kind = rng.integers(4)
        if kind == 0:
            out[at:at + run] = 0
        elif kind == 1:
            out[at:at + run] = rng.integers(256)
        elif kind == 2:
            out[at:at + run] &= 0x7F
        at += run
    return out
