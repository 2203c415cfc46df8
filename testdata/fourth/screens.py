"""What software has put on the screen: memory contents, border, background and fill byte of an invented machine.

One canvas serves both sorts of display: on a bitmap display a glyph's pixels are drawn, on a text display its code is
put; drawings that need single pixels have a counterpart of drawing glyphs on text displays.
"""
import numpy as np

import fonts
import profiles

SYLLABLES = "ba ko ri ten ma lu ser vo pi dan gor ex al mi tu ne fra sta wel dro quin jas hy zo cub ip".split()
WORDS = "LOAD SAVE READY ERROR PRINT INPUT GOTO FOR NEXT RETURN LET IF THEN DATA READ POKE STOP REM DIM".split()


class Canvas:
    """A screen under way, in cells of 8 x 8."""

    def __init__(self, display, font, rng):
        self.d, self.rng, self.font = display, rng, font
        self.cols, self.rows = display.width // 8, display.height // 8
        self.bits = np.zeros((display.height, display.width), np.uint8)
        self.codes = np.full((self.rows, self.cols), 32, np.uint8)
        self.colour = np.zeros((self.rows, self.cols), np.uint8)

    def put(self, row, col, code):
        if 0 <= row < self.rows and 0 <= col < self.cols:
            self.codes[row, col] = code
            if self.d.attr:
                self.bits[8 * row:8 * row + 8, 8 * col:8 * col + 8] = np.unpackbits(self.font[code][:, None], axis=1)

    def text(self, row, col, words, tint=None):
        for i, ch in enumerate(words):
            if col + i < self.cols and row < self.rows:
                self.put(row, col + i, ord(ch) if 32 <= ord(ch) < 127 else 32)
                if tint is not None:
                    self.colour[row, col + i] = tint

    def area(self, row, col, h, w, code=None, tint=None):
        for r in range(max(row, 0), min(row + h, self.rows)):
            for c in range(max(col, 0), min(col + w, self.cols)):
                if code is not None:
                    self.put(r, c, code)
                if tint is not None:
                    self.colour[r, c] = tint

    def pick(self, *choices):
        return choices[self.rng.integers(len(choices))]

    def tint(self, ink=None, paper=None, bright=None):
        """A colour byte, or a nibble; without ink, one that stands off the paper."""
        if not self.d.attr:
            return int(self.rng.integers(1, 16)) if ink is None else ink
        paper = int(self.rng.integers(8)) if paper is None else paper
        while ink is None or ink == paper:
            ink = int(self.rng.integers(8))
        bright = int(self.rng.integers(2)) if bright is None else bright
        return bright << 6 | paper << 3 | ink

    def word(self, low=None):
        w = "".join(self.pick(*SYLLABLES) for _ in range(self.rng.integers(1, 4)))
        style = self.rng.integers(3) if low is None else low
        return (w.upper(), w, w.capitalize())[style]


def boot(c):
    c.text(0, 0, f"{c.word(0)} SYSTEM V{c.rng.integers(1, 9)}.{c.rng.integers(10)}")
    if c.rng.random() < 0.6:
        c.text(2, 0, f"{c.rng.integers(3000, 48000)} BYTES FREE")
        c.text(4, 0, c.pick("READY", "OK", "Ready.", ">"))
    if c.rng.random() < 0.4:
        c.text(c.rows - 1, 0, f"(c) {c.rng.integers(1979, 1990)} {c.word(2)} {c.word(2)} Ltd")
    cursor(c, 5)


def cursor(c, row=None):
    row = int(c.rng.integers(c.rows)) if row is None else row
    c.put(row, int(c.rng.integers(3)), 127)


def listing(c):
    number = 10
    for row in range(c.rows - int(c.rng.integers(1, 5))):
        what = c.pick('PRINT "%s %s"' % (c.word(), c.word()), "LET %s=%d" % (c.word()[0], c.rng.integers(999)),
                      "IF %s>%d THEN GOTO %d" % (c.word()[0], c.rng.integers(99), c.rng.integers(200) * 10),
                      "REM *** %s ***" % c.word(), "FOR I=1 TO %d: NEXT I" % c.rng.integers(99),
                      "DATA " + ",".join(str(c.rng.integers(256)) for _ in range(5)), c.pick(*WORDS) + " " + c.word())
        c.text(row, 0, f"{number:4d} {what}"[:c.cols])
        number += 10
    cursor(c, c.rows - 1)


def directory(c):
    c.text(0, 0, f"Volume {c.word(0)}  {c.rng.integers(1, 99):02d}", c.tint() if c.rng.random() < 0.4 and c.d.attr else None)
    for row in range(2, int(c.rng.integers(8, c.rows))):
        c.text(row, 1, f"{c.word(0)[:8]:8s}.{c.pick('BAS', 'BIN', 'TXT', 'SCR')}{c.rng.integers(1, 49152):7d}")
    cursor(c, c.rows - 1)


def menu(c):
    h, w = int(c.rng.integers(8, 16)), int(c.rng.integers(16, 28))
    r0, c0 = int(c.rng.integers(1, c.rows - h)), int(c.rng.integers(0, c.cols - w))
    tint = c.tint()
    c.area(r0, c0, h, w, 32, tint)
    for col in range(c0 + 1, c0 + w - 1):
        c.put(r0, col, 16), c.put(r0 + h - 1, col, 16)
    for row in range(r0 + 1, r0 + h - 1):
        c.put(row, c0, 17), c.put(row, c0 + w - 1, 17)
    for (row, col), code in zip(((r0, c0), (r0, c0 + w - 1), (r0 + h - 1, c0), (r0 + h - 1, c0 + w - 1)), (18, 19, 20, 21)):
        c.put(row, col, code)
    chosen = int(c.rng.integers(2, h - 2))
    for row in range(2, h - 1):
        c.text(r0 + row, c0 + 2, f"{row - 1}. {c.word(2)} {c.word(1)}"[:w - 4], c.tint() if row == chosen else None)
    c.text(c.rows - 2, 2, "PRESS A NUMBER TO CHOOSE")


def bars(c):
    n = c.pick(8, 8, 7) if c.d.attr else c.pick(8, 16, 10)
    for col in range(c.cols):
        i = min(col * n // c.cols, n - 1)
        if c.d.attr:
            c.area(0, col, c.rows, 1, None, 64 * int(n == 8) | (7 - i) << 3 | (7 if i > 3 else 0))
        else:
            c.area(0, col, c.rows, 1, 15, i if n == 16 else (i + 4 if n == 10 else 2 * i))
    r = int(c.rng.integers(2, c.rows - 3))
    c.text(r, 3, f"{c.word(0)} COLOUR TEST {c.rng.integers(99)}")


def pattern(c):
    """A test ROM's screen: a grid or board, border marks, a caption."""
    step = c.pick(1, 2, 4)
    for row in range(c.rows):
        for col in range(c.cols):
            if (row // step + col // step) & 1:
                c.put(row, col, c.pick(15, 15, 28) if step > 1 else 15)
    c.area(9, 6, 5, 20, 32)
    c.text(10, 8, "MEMORY TEST " + c.pick("1", "2", "A"))
    for i in range(8):
        c.text(12, 8 + 2 * i, str(i))


def mosaic(c):
    density = c.rng.uniform(0.2, 0.9)
    for row in range(c.rows):
        for col in range(c.cols):
            if c.rng.random() < density:
                c.put(row, col, int(c.rng.integers(1, 16)))
                if c.rng.random() < 0.5:
                    c.colour[row, col] = c.tint()


def charset(c):
    codes = [k for k in range(256)] if not c.d.attr else list(range(32, 127)) * 2
    for i, code in enumerate(codes):
        row, col = 2 + 2 * (i // (c.cols - 8)), 4 + i % (c.cols - 8)
        c.put(row, col, code)
    c.text(0, 4, "CHARACTERS " + c.word(0))


def chart(c):
    c.text(0, 2, f"{c.word(2)} {c.rng.integers(1980, 1989)}")
    floor = c.rows - 3
    for k in range(int(c.rng.integers(5, 10))):
        h, col = int(c.rng.integers(1, floor - 3)), 3 + 3 * k
        c.area(floor - h, col, h, 2, 15, c.tint(paper=0 if c.d.attr else None))
        if c.d.attr:
            c.area(floor - h, col, h, 2, 15, (c.colour[0, 0] & 0x78) | int(c.rng.integers(8)))
        c.text(floor + 1, col, str(k + 1))
    for col in range(2, c.cols - 1):
        c.put(floor, col, 16)


def picture(c):
    """A smooth scene in ordered dither, or in shades of glyphs."""
    yy, xx = np.mgrid[:c.d.height, :c.d.width] / 100.0
    z = sum(c.rng.uniform(-1, 1) * np.sin(c.rng.uniform(1, 4) * xx + c.rng.uniform(1, 4) * yy + c.rng.uniform(0, 6)) for _ in range(4))
    z = (z - z.min()) / np.ptp(z)
    if not c.d.attr:
        shades = np.array([32, 29, 28, 15])
        for row in range(c.rows):
            for col in range(c.cols):
                c.put(row, col, shades[min(int(z[8 * row + 4, 8 * col + 4] * 4), 3)])
                c.colour[row, col] = 4 + int(z[8 * row + 4, (8 * col + 90) % c.d.width] * 11.9)
        return
    bayer = np.array([[0, 8, 2, 10], [12, 4, 14, 6], [3, 11, 1, 9], [15, 7, 13, 5]]) / 16 + 0.03
    c.bits[:] = z > np.tile(bayer, (c.d.height // 4, c.d.width // 4))
    for row in range(c.rows):
        k = int(6.9 * row / c.rows)
        c.colour[row, :] = c.tint(ink=(7, 6, 5, 4, 6, 2, 3)[k], paper=(1, 1, 1, 0, 0, 0, 2)[k], bright=1)


def game(c):
    """Sky, ground, platforms, a score line, and small figures of mirrored noise."""
    if c.d.attr:
        c.area(0, 0, c.rows, c.cols, None, c.tint(7, c.pick(0, 1, 5), 0))
        ground = c.tint(c.pick(0, 6), c.pick(2, 4), 0)
    else:
        ground = c.pick(6, 12, 4)
    c.text(0, 1, f"SCORE {c.rng.integers(99999):06d}  LIVES {c.rng.integers(1, 6)}")
    c.area(c.rows - 3, 0, 3, c.cols, 28, ground)
    for _ in range(int(c.rng.integers(3, 7))):
        c.area(int(c.rng.integers(4, c.rows - 4)), int(c.rng.integers(c.cols - 6)), 1, int(c.rng.integers(4, 12)), 14, ground)
    for _ in range(int(c.rng.integers(5, 14))):
        row, col = int(c.rng.integers(2, c.rows - 4)), int(c.rng.integers(c.cols - 2))
        if c.d.attr:
            half = (c.rng.random((16, 8)) < 0.55).astype(np.uint8)
            c.bits[8 * row:8 * row + 16, 8 * col:8 * col + 16] = np.hstack([half, half[:, ::-1]])
            c.area(row, col, 2, 2, None, (int(c.colour[0, 0]) & 0x78) | int(c.rng.integers(8)))
        else:
            for k in range(4):
                c.put(row + k // 2, col + k % 2, int(c.pick(30, 31, 7, 11, 13, 14)))
                c.colour[row + k // 2, col + k % 2] = c.tint()


def blank(c):
    if c.rng.random() < 0.5:
        c.text(0, 0, c.pick("READY", "Ok", "*", "MON>"))
    cursor(c, 1)


def fill(c):
    """Every cell alike; returns the byte."""
    while True:
        byte = int(c.pick(0x55, 0xAA, 0x0F, 0xF0, 0xCC, 0x33, int(c.rng.integers(256))))
        if not c.d.attr or (byte >> 3 & 7) != (byte & 7):
            break
    if c.d.attr:
        c.bits[:] = np.tile(np.unpackbits(np.uint8([byte])), (c.d.height, c.d.width // 8))
        c.colour[:] = byte
    else:
        c.codes[:] = byte
    return byte


KINDS = {"boot": boot, "listing": listing, "directory": directory, "menu": menu, "bars": bars, "pattern": pattern, "mosaic": mosaic,
         "charset": charset, "chart": chart, "picture": picture, "game": game, "empty": blank, "fill": fill}
SHARES = (10, 12, 11, 11, 7, 8, 8, 7, 8, 8, 10, 3, 4)


class Screen:
    """Memory and registers that a good machine would show: mem (16 KiB), colour (1 KiB of nibbles), border, paper."""

    def __init__(self, display, rng, kind=None, flashing=False):
        self.font, self.glyphs, self.pen = fonts.generator(rng)
        c = Canvas(display, self.font, rng)
        names = list(KINDS)
        self.kind = kind or names[rng.choice(len(names), p=np.array(SHARES) / sum(SHARES))]
        self.paper = int(rng.choice([0, 0, 1, 8, 4, 14] if not display.attr else [0]))
        if display.attr:
            pair = [(0, 7, 0), (7, 0, 0), (6, 1, 0), (7, 1, 1), (4, 0, 1), (0, 5, 0), (0, 7, 1)][rng.integers(7)]
            c.colour[:] = pair[2] << 6 | pair[1] << 3 | pair[0]
            self.border = int(pair[1] if rng.random() < 0.6 else rng.integers(8))
        else:
            inks = [k for k in range(16) if abs(display.lut[k][0] - display.lut[self.paper][0]) > 0.3]
            c.colour[:] = inks[rng.integers(len(inks))]
            self.border = int(self.paper if rng.random() < 0.4 else rng.integers(16))
        self.fill = KINDS[self.kind](c) if self.kind == "fill" else (KINDS[self.kind](c), None)[1]
        if display.attr and (flashing or rng.random() < 0.15) and self.fill is None:
            spots = int(rng.integers(1, 4))
            for _ in range(spots):  # words that flash, the cursor's way
                row, col, w = int(rng.integers(c.rows)), int(rng.integers(c.cols - 6)), int(rng.integers(2, 12))
                tint = int(c.colour[row, col]) | 0x80
                if not c.bits[8 * row:8 * row + 8, 8 * col:8 * col + 8 * w].any():
                    c.text(row, col, c.word(0)[:w].ljust(w, "!"))
                c.area(row, col, 1, w, None, tint)
        self.mem, self.blink = _rest(rng), None
        self.colour = np.zeros(1024, np.uint8)
        if display.attr:
            y, col = np.mgrid[:192, :32]
            self.mem[profiles.bitmap_address(y, col)] = np.packbits(c.bits, axis=1)
            self.mem[6144:6912] = c.colour.ravel()
        else:
            self.mem[:1000] = c.codes.ravel()
            self.colour[:1000] = c.colour.ravel() & 15
            at = np.flatnonzero(self.mem[:1000] == 127)
            if len(at) and self.kind != "charset" and rng.random() < 0.35:  # software blinks the cursor
                self.blink = {"address": int(at[-1]), "code": 32, "fields": int(rng.integers(10, 26))}
            self.mem[1000:1024] = 32 if rng.random() < 0.5 else self.mem[1000:1024]


def _rest(rng):
    """The rest of the bank: zeros, with stretches of program and of memory as it woke."""
    mem = np.zeros(16384, np.uint8)
    for _ in range(int(rng.integers(2, 7))):
        at, n = int(rng.integers(1024, 15000)), int(rng.integers(200, 3000))
        mem[at:at + n] = rng.integers(0, 256, mem[at:at + n].size)
    if rng.random() < 0.4:
        mem[8192:] = np.where(np.arange(8192) >> 6 & 1, 0xFF, mem[8192:])
    return mem


def woken(display, rng):
    """A screen that nothing has written: cells wake in blocks by row and column, with exceptions, lanes by their own maker's way."""
    s = Screen(display, rng, "boot")
    a = np.arange(16384)
    s.mem[:] = 0
    for bit in range(8):
        rule = rng.integers(4)
        base = (a >> int(rng.integers(7, 12)) & 1, a >> int(rng.integers(0, 7)) & 1, (a >> 6 ^ a >> 10) & 1, 0 * a)[rule]
        flips = rng.random(16384) < rng.uniform(0.02, 0.35)
        s.mem |= ((base ^ flips ^ int(rng.integers(2))).astype(np.uint8) << bit)
    s.colour = rng.integers(0, 16, 1024).astype(np.uint8) if rng.random() < 0.5 else np.full(1024, rng.integers(16), np.uint8)
    s.kind, s.fill, s.blink = "woken", None, None
    return s
