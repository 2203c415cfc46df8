"""What software has put on the screen: one canvas for both sorts of display, and screens drawn on it."""
import numpy as np

import fonts
from displays import bitmap_address, colour_address
from machine import Machine

WORDS = ("amber basin cedar delta ember fjord grove harbour iron jasper kettle ledger meadow nickel orchard pebble quarry river "
         "silver timber umber valley willow yarrow zephyr anchor beacon copper dune echo flint gravel hollow island juniper").split()
VERBS = ("LET", "PUT", "GOTO", "SHOW", "IF", "LOOP", "NEXT", "READ", "PLOT", "CALL", "WAIT", "STOP")


class Canvas:
    """Cells to write on. Colours are 0..15 numbers of the display; on bitmap displays ink and paper share brightness."""

    def __init__(self, d, r, style, order, inverse, ink, paper):
        self.d, self.r = d, r
        self.glyphs, self.where = fonts.table(style, order, inverse)
        self.mem = leftover(r)
        self.colour = r.integers(0, 16, 1024, dtype=np.uint8)
        self.paper = paper
        self.clear(ink, paper)

    def attr(self, ink, paper, flash=0):
        return flash << 7 | ((ink | paper) & 8) << 3 | (paper & 7) << 3 | ink & 7

    def clear(self, ink, paper):
        self.ink = ink
        if self.d.attr:
            self.mem[:6144], self.mem[6144:6912] = 0, self.attr(ink, paper)
        else:
            self.mem[:1000], self.colour[:1000] = self.where[32], ink

    def cell(self, c, y, code, ink=None, paper=None, flash=0):
        """A glyph by its code at a cell; on text displays paper stays the screen's."""
        if not (0 <= c < self.d.cols and 0 <= y < self.d.rows):
            return
        ink = self.ink if ink is None else ink
        if self.d.attr:
            self.mem[bitmap_address(8 * y + np.arange(8), c)] = self.glyphs[code]
            self.mem[colour_address(8 * y, c)] = self.attr(ink, self.paper if paper is None else paper, flash)
        else:
            self.mem[40 * y + c], self.colour[40 * y + c] = code, ink

    def text(self, c, y, words, ink=None, paper=None, flash=0, inverse=False):
        for i, ch in enumerate(words):
            self.cell(c + i, y, self.where[ord(ch)] + 128 * inverse, ink, paper, flash)

    def block(self, c, y, kind, ink, paper=None):
        """Graphic `kind` (0..31 of fonts.graphics)."""
        self.cell(c, y, self.where[kind], ink, paper)

    def pixels(self, bits):
        """A whole picture of 192 x 256 bits, bitmap displays only."""
        y, c = np.arange(192)[:, None], np.arange(32)[None, :]
        self.mem[bitmap_address(y, c)] = np.packbits(bits, axis=1)


def leftover(r):
    """16384 bytes of a machine that has run programs: code, tables, runs of nothing."""
    mem = np.zeros(16384, np.uint8)
    at = 0
    while at < mem.size:
        n = int(r.integers(64, 900))
        part = mem[at:at + n]
        part[:] = (r.integers(0, 256, part.size), r.choice([0, 0x21, 0x3E, 0xCD, 0xC9, 0x20], part.size), 0, 255)[r.choice(4, p=[.4, .3, .2, .1])]
        at += n
    return mem


def phrase(r, n):
    return " ".join(r.choice(WORDS, n))


def title(r, n=1):
    return phrase(r, n).upper()


def boot(s, r):
    top = int(r.integers(0, 4))
    line = f"{title(r)} {r.integers(2, 9)}.{r.integers(0, 10)}"
    lines = [line, f"{r.choice([16, 24, 32, 48, 64])}K STORE  {r.integers(7000, 50000)} PLACES LEFT", "", r.choice(["WHAT NEXT", "GO", "Begin:", "Your turn"])]
    if r.random() < 0.3:  # a message at the foot
        s.text(int(r.integers(0, 4)), s.d.rows - 1 - int(r.integers(0, 2)), f"* {phrase(r, 2)} {r.integers(1980, 1990)}")
        lines = lines[-1:] if r.random() < 0.4 else lines
    for i, words in enumerate(lines):
        s.text(int(r.integers(0, 2)) if i == 0 else 0, top + i, words)
    at = 0, top + len(lines)
    if s.d.attr:
        s.text(*at, " ", flash=int(r.random() < 0.5), ink=s.paper & 8 | s.ink & 7, paper=s.paper)
        if r.random() < 0.5:
            s.text(*at, "K", ink=s.paper, paper=s.ink | s.paper & 8, flash=1)
    return at


def listing(s, r):
    number = 10 * int(r.integers(1, 30))
    for y in range(s.d.rows - int(r.integers(1, 5))):
        a = r.choice(VERBS)
        tail = {"LET": f" {r.choice(list('abcnxyz'))}={r.integers(0, 400)}*{r.choice(list('abcnxyz'))}", "SHOW": f' "{phrase(r, 2)}"',
                "GOTO": f" {10 * r.integers(1, 60)}", "IF": f" {r.choice(list('knt'))}<{r.integers(1, 99)} THEN STOP",
                "PLOT": f" {r.integers(0, 255)},{r.integers(0, 175)}"}.get(a, f" {r.choice(WORDS)}({r.integers(0, 9)})")
        s.text(0, y, f"{number:4d} {a}{tail}"[:s.d.cols])
        number += int(r.choice([5, 10, 10, 10, 20]))
    s.text(0, s.d.rows - 1, "next")


def bars(s, r, y0, n, order):
    for c in range(s.d.cols):
        k = order[min(len(order) - 1, c * len(order) // s.d.cols)]
        for y in range(y0, y0 + n):
            s.block(c, y, 15, k) if not s.d.attr else s.cell(c, y, s.where[32], 0, k)


def testrom(s, r):
    """A test ROM: bars, words, the glyphs, a row of results."""
    order = [7, 6, 5, 4, 3, 2, 1, 0] if s.d.attr else [3, 11, 13, 12, 15, 10, 14, 0] if r.random() < 0.5 else list(range(16))
    if s.d.attr and r.random() < 0.5:
        order = [k | 8 for k in order]
    n = int(r.integers(3, 9))
    bars(s, r, 1, n, order)
    if s.d.attr and r.random() < 0.5:
        bars(s, r, 1 + n, 2, [k & 7 for k in order])
    y = n + 4
    s.text(2, y, f"{title(r)} TEST ROM {r.integers(1, 9)}.{r.integers(0, 99):02d}")
    for i, name in enumerate(("ROM sum", "Low RAM", "High RAM", "Ports")[:int(r.integers(2, 5))]):
        s.text(2, y + 2 + i, f"{name:10s}{r.choice(['pass', 'pass', 'pass', '....', f'{r.integers(0, 65536):04X}'])}")
    if r.random() < 0.6:
        s.text(0, s.d.rows - 4, "".join(chr(k) for k in range(33, 33 + s.d.cols)))
        s.text(0, s.d.rows - 3, "".join(chr(k) for k in range(65, 65 + min(s.d.cols, 58))))


def memtest(s, r):
    """A memory test under way: a pattern over most of the screen, a status line, or a table of chips."""
    v = int(r.choice([0x55, 0xAA, 0x33, 0x0F, 0xF0, 0xFF]))
    if r.random() < 0.5:
        rows = int(r.integers(6, s.d.rows - 4))
        if s.d.attr:
            y = np.arange(8 * 3, 8 * (3 + rows))[:, None]
            s.mem[bitmap_address(y, np.arange(32)[None, :])] = v
        else:
            s.mem[120:120 + 40 * rows] = v
        s.text(1, 1, f"WRITING {v:02X} AT {r.integers(4, 16) * 1024:05d}")
        return
    s.text(1, 1, f"{title(r)} MEMORY CHECK")
    s.text(1, 3, "ROW  01 00 FF 55 AA  WALK")
    for b in range(8):
        s.text(1, 5 + 2 * b, f"D{b}   " + "ok " * 5 + " " + r.choice(["good", "good", "busy"]))
    s.text(1, 22, f"PASS {r.integers(1, 99)}  TIME {r.integers(0, 59):02d}:{r.integers(0, 59):02d}")


def inks(s, r, n):
    """Colours that stand out from the paper."""
    y = s.d.table[:, 0]
    good = [k for k in range(16) if abs(y[k] - y[s.paper]) > 0.15 and (not s.d.attr or k & 8 == s.bright)]
    return [int(k) for k in r.choice(good, n)]


def game(s, r):
    """Platforms, ladders, tokens, a score."""
    a, b, c, e = inks(s, r, 4)
    s.text(0, 0, f"SCORE {r.integers(0, 99999):05d}  LIVES {r.integers(1, 6)}"[:s.d.cols], e)
    for y in range(4, s.d.rows - 1, int(r.integers(3, 5))):
        x = int(r.integers(0, 6))
        while x < s.d.cols:
            n = int(r.integers(4, 12))
            for k in range(x, min(x + n, s.d.cols)):
                s.block(k, y, 31, a)
            if r.random() < 0.7:
                for k in range(3):
                    s.block(x + 1, y - 1 - k, 18, b)
            for k in range(int(r.integers(0, 3))):
                s.block(x + 2 + int(r.integers(0, n)), y - 1, 28 + int(r.integers(0, 3)), c)
            x += n + int(r.integers(2, 6))
    for k in range(s.d.cols):
        s.block(k, s.d.rows - 1, 26, b)


def titlepage(s, r):
    """Big letters of cells, a name, and on bitmaps a drawn scene."""
    word = title(r)[:s.d.cols // 6]
    hue = inks(s, r, len(word) + 2)
    x0 = (s.d.cols - 6 * len(word)) // 2
    if s.d.attr:  # hills and a sun behind
        yy, xx = np.mgrid[0:192, 0:256]
        hill = yy > 150 - 22 * np.sin(xx / r.uniform(18, 50) + r.uniform(0, 6)) - 8 * np.sin(xx / 9)
        sun = (xx - r.integers(60, 200)) ** 2 + (yy - 105) ** 2 < r.integers(12, 30) ** 2
        s.pixels((hill & ((xx * 3 + yy) % 5 < 3) | sun & ~hill).astype(np.uint8))
        s.mem[6144 + 32 * 10:6144 + 32 * 22] = s.attr(hue[-1], s.paper)
    for i, ch in enumerate(word):
        g = np.unpackbits(s.glyphs[s.where[ord(ch)]][:, None], axis=1)
        for y in range(7):
            for x in range(6):
                if g[y, x + (0 if g[:, 0].any() else 1)]:
                    s.block(x0 + 6 * i + x, 2 + y, 15, hue[i])
    s.text(int(r.integers(2, 8)), 23, f"by {phrase(r, 2)}"[:s.d.cols - 8])
    s.text(4, 11, "PRESS A KEY TO START", flash=int(s.d.attr and r.random() < 0.5))


def charts(s, r):
    """All the glyphs, and the colours."""
    for k in range(256 if not s.d.attr else 128):
        s.cell(2 + k % 24, 2 + k // 24, k if not s.d.attr else k % 128, inks(s, r, 1)[0] if k % 24 == 0 else None)
    s.text(2, 0, "GLYPHS")
    bars(s, r, s.d.rows - 5, 3, [0, 1, 2, 3, 4, 5, 6, 7] if s.d.attr else list(range(16)))


SCREENS = {"boot": boot, "listing": listing, "test-rom": testrom, "memory-test": memtest, "game": game, "title": titlepage, "charts": charts}
SHARES = {"boot": .2, "listing": .15, "test-rom": .22, "memory-test": .13, "game": .14, "title": .1, "charts": .06}


def colours(d, r):
    """Ink and paper that software would choose, and whether the screen is bright."""
    if d.attr:
        bright = 8 * int(r.random() < 0.3)
        pairs = [(0, 7), (7, 0), (6, 0), (7, 1), (0, 6), (4, 0), (7, 2), (1, 7), (0, 5), (5, 0)]
        a, b = pairs[int(r.choice(len(pairs), p=[.34, .18, .07, .14, .05, .07, .04, .04, .04, .03]))]
        return a | bright * (a > 0), b | bright * (b > 0), bright
    pairs = [(14, 8), (3, 0), (3, 8), (12, 0), (0, 2), (5, 0), (0, 3), (2, 1), (11, 8), (3, 4), (13, 7), (3, 6)]
    a, b = pairs[int(r.choice(len(pairs), p=[.18, .14, .14, .1, .1, .06, .08, .05, .05, .04, .03, .03]))]
    return a, b, 0


def make(d, r, kind, seed, need_flash=False):
    """A good machine with a screen; the stated fill, if it is one."""
    ink, paper, bright = colours(d, r)
    style = int(r.integers(0, len(fonts.STYLES)))
    order = "ascii" if r.random() < 0.6 or d.attr else "letters"
    s = Canvas(d, r, style, order, r.random() < 0.7, ink, paper)
    s.bright = bright
    border = paper & 7 if r.random() < 0.45 else int(r.choice([0, 1, 7, 2, 4, 5] if d.attr else [0, 8, 14, 1, 6, 9, 4, 12]))
    fill, cursor = None, None
    if kind == "fill":
        fill = int(r.choice([0x00, 0xFF, 0x55, 0xAA]))
        if d.attr:
            s.mem[:6912] = fill
        else:
            s.mem[:1000] = fill
    else:
        at = SCREENS[kind](s, r)
        if at and not d.attr and r.random() < 0.6:
            cursor = at[1] * 40 + at[0], int(s.where[32]) + 128
        if need_flash:
            for y in r.choice(d.rows - 6, 2, replace=False):
                s.text(int(r.integers(1, 8)), 3 + int(y), title(r, 2), flash=1, ink=(paper ^ 7) & 7 | bright, paper=paper)
    m = Machine(d, s.mem, border, None if d.attr else s.colour, paper, s.glyphs, int(r.integers(0, 32)), cursor,
                int(r.choice([15, 20, 25])), seed)
    return m, fill


def wake(d, r, seed):
    """Memory as it wakes, never written: rows and columns of a chip lean to one value each, with stray cells."""
    m, _ = make(d, r, "boot", seed)
    a = np.arange(16384)
    run = int(r.choice([1, 2, 3, 4]))
    base = (a >> run & 1) ^ (a >> int(r.integers(6, 9)) & 1 if r.random() < 0.6 else 0)
    mem = np.zeros(16384, np.uint8)
    lean = r.uniform(0.02, 0.12)
    for b in range(8):  # the chips of one make lean alike, a few the other way
        flip = r.random() < 0.15
        mem |= ((base ^ flip ^ (r.random(16384) < lean)) << b).astype(np.uint8)
    m.mem = mem
    if not d.attr:
        m.colour = r.integers(0, 16, 1024, dtype=np.uint8)
        m.cursor, m.background = None, int(r.choice([0, 0, 3, 1, 8]))
    m.border = int(r.choice([0, 7, 1, 2] if d.attr else [0, 3, 1, 8]))
    return m
