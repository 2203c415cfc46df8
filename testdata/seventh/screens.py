"""What software has put on the screen, in memory; and memory as it wakes."""
import numpy as np

import fonts

NAMES = "ALDER BASALT CLEAT DELTA EMBER FENNEL GROVE HAZEL INDIGO JUNIPER KNOTWEED LARCH MARBLE NETTLE OXLIP PEBBLE".split()
WORDS = ("the barge went down to the lock and waited there until the keeper had finished his soup because nobody in that village "
         "was ever in a hurry and the water least of all said one who sold eels from a bucket by the bridge").split()
FREE = ("bytes free", "BYTES FREE", "K workspace", "cells left", "Memory ok")
STATEMENTS = ('PRINT "{w}";{n}', "LET {v}={v}+{n}", "FOR {v}=1 TO {n}", "NEXT {v}", "IF {v}>{n} THEN GOTO {m}", "GOSUB {m}", "RETURN", "POKE {m},{n}",
              "REM {w} {w}", "INPUT {v}$", "DATA {n},{n},{n},{n}", "READ {v}", 'LET {v}$="{w}"', "GOTO {m}", "DIM {v}({n})", "PAUSE {n}")


class Scene:
    """A machine's screen: memory, and for text displays the colour memory, generator and background."""

    def __init__(self, rng, d):
        self.d, self.kind, self.fill, self.codes = d, d.kind, None, None
        self.mem = np.zeros(16384, np.uint8)
        rooms = np.where(rng.random(64) < .4, rng.choice([0, 255], 64), -1).repeat(256)  # above the screen lie a program and its empty rooms
        self.mem[:] = np.where(rooms < 0, rng.integers(0, 256, 16384), rooms)
        self.colour = np.zeros(1024, np.uint8)
        self.border, self.background = 0, 0
        self.style = str(rng.choice(fonts.STYLES))
        self.order = str(rng.choice(fonts.ORDERS)) if d.kind == "text" else "ascii"
        self.font, self.code, self.blocks, self.count = fonts.generator(rng, self.style, self.order)
        self.pixels = np.zeros((d.rows, d.columns, 8), np.uint8)
        self.cell = np.zeros((d.rows, d.columns), np.uint8)
        self.ink = np.zeros((d.rows, d.columns), np.uint8)
        if d.kind == "text":
            self.cell[:] = self.code[" "]

    def clear(self, paper, ink, border):
        """Whole screen in a pair of colours; a colour of a bitmap display is 0..7 and 8 for bright."""
        self.border = border & 7 if self.kind == "attr" else border
        self.background = paper
        self.ink[:] = self.both(ink, paper)

    def both(self, ink, paper):
        return (ink & 7) | (paper & 7) << 3 | ((ink | paper) & 8) << 3 if self.kind == "attr" else ink

    def put(self, x, y, text, ink, paper=None, flash=False):
        for ch in text:
            if 0 <= x < self.d.columns and 0 <= y < self.d.rows:
                if self.kind == "attr":
                    self.pixels[y, x] = self.font[self.code[ch]]
                else:
                    self.cell[y, x] = self.code[ch]
                self.ink[y, x] = self.both(ink, self.background if paper is None else paper) | (128 if flash and self.kind == "attr" else 0)
            x += 1

    def block(self, x, y, i, ink, paper=None):
        if 0 <= x < self.d.columns and 0 <= y < self.d.rows:
            p = self.blocks[i % len(self.blocks)]
            if self.kind == "attr":
                self.pixels[y, x] = self.font[p]
            else:
                self.cell[y, x] = p
            self.ink[y, x] = self.both(ink, self.background if paper is None else paper)

    def solid(self, x, y, w, h, colour):
        """An even rectangle of cells."""
        for j in range(y, min(y + h, self.d.rows)):
            for i in range(x, min(x + w, self.d.columns)):
                if self.kind == "attr":
                    self.pixels[j, i] = 0
                    self.ink[j, i] = self.both(colour & 8, colour)
                else:
                    full = next((p for p in self.blocks if self.font[p].min() == 255), None)
                    if full is None:
                        full = self.blocks[15]
                    self.cell[j, i], self.ink[j, i] = full, colour

    def store(self):
        """What was drawn, into memory."""
        d = self.d
        if self.kind == "attr":
            for y in range(d.height):
                a = d.bitmap_address(y, 0)
                self.mem[a:a + 32] = self.pixels[y >> 3, :, y & 7]
            self.mem[6144:6912] = self.ink.ravel()
        else:
            self.mem[:1000] = self.cell.ravel()
            self.colour[:1000] = self.ink.ravel() & 15
        return self


def pair(rng, s):
    """Paper, ink and border as machines of the day woke up with or programs chose."""
    if s.kind == "attr":
        p, i, b = [(7, 0, 7), (0, 7, 0), (1, 7, 1), (15, 0, 7), (0, 12, 0), (1, 14, 5), (6, 0, 2), (0, 5, 1), (7, 1, 6)][rng.integers(9)]
    else:
        p, i, b = [(8, 14, 14), (0, 3, 0), (1, 12, 2), (3, 0, 13), (0, 12, 1), (8, 3, 7), (2, 0, 12), (0, 10, 8), (14, 8, 8)][rng.integers(9)]
    return p, i, b


def boot(rng, s):
    p, i, b = pair(rng, s)
    s.clear(p, i, b)
    y = int(rng.integers(0, 4))
    name = f"{rng.choice(NAMES)} {rng.integers(2, 900)}"
    lines = [f"{name} monitor {rng.integers(1, 5)}.{rng.integers(0, 10)}", f"(c) 198{rng.integers(1, 9)} {rng.choice(NAMES).title()} Works", "",
             f"{rng.integers(1000, 48000)} {rng.choice(FREE)}", "", str(rng.choice(["Ready", "READY.", "ok", ">", "*"]))]
    for k, t in enumerate(lines):
        s.put(int(rng.integers(0, 3)) if k == 0 else 1, y + k, t, i)
    if s.kind == "attr" and rng.random() < .6:
        s.put(2 + len(lines[-1]), y + 5, "L", i, flash=True)
    if rng.random() < .4:
        s.put(0, s.d.rows - 1, "0 " + str(rng.choice(["no fault", "start tape", "insert cartridge"])), i)


def listing(rng, s):
    p, i, b = pair(rng, s)
    s.clear(p, i, b)
    n, step = int(rng.integers(1, 200)) * 10, int(rng.choice([1, 5, 10]))
    for y in range(int(rng.integers(s.d.rows // 2, s.d.rows))):
        t = STATEMENTS[rng.integers(len(STATEMENTS))]
        while "{" in t:
            t = t.replace("{w}", str(rng.choice(WORDS)), 1).replace("{n}", str(rng.integers(1, 256)), 1)
            t = t.replace("{m}", str(rng.integers(1, 999) * 10), 1).replace("{v}", chr(65 + rng.integers(26)), 1)
        s.put(0, y, f"{n:5d} {t}"[:s.d.columns], i)
        n += step


def menu(rng, s):
    p, i, b = pair(rng, s)
    s.clear(p, i, b)
    inks = [c for c in (range(8) if s.kind == "attr" else range(16)) if c != p & 7 and c != p]
    title = f" {rng.choice(NAMES)} {rng.choice(['TOOLS', 'DESK', 'BANK', 'GAMES', 'LAB'])} "
    x, w = int(rng.integers(3, 8)), s.d.columns - 12
    s.put(x, 2, title.center(w), p if s.kind == "attr" else i, i if s.kind == "attr" else None)
    for k in range(int(rng.integers(5, 9))):
        y = 4 + 2 * k
        s.put(x, y, f"{k + 1}. {str(rng.choice(WORDS)).title()} {rng.choice(WORDS)}", int(inks[k % len(inks)]))
        s.block(x + w - 1, y, int(rng.integers(64, 120)), int(inks[(k + 2) % len(inks)]))
    for x in range(s.d.columns):
        s.block(x, 0, 17, i)
        s.block(x, s.d.rows - 1, 21, i)
    if rng.random() < .5:
        s.put(2, s.d.rows - 2, "Press a key", i, flash=True)


def page(rng, s):
    """Running text."""
    p, i, b = pair(rng, s)
    s.clear(p, i, b)
    line, y = "", 0
    while y < s.d.rows:
        w = str(rng.choice(WORDS))
        if len(line) + len(w) + 1 > s.d.columns:
            s.put(0, y, line, i)
            y, line = y + 1, ""
        line += w + (". " if rng.random() < .1 else " ")


def dump(rng, s):
    p, i, b = pair(rng, s)
    s.clear(p, i, b)
    a = int(rng.integers(0, 4000)) * 8
    for y in range(s.d.rows):
        data = rng.integers(0, 256, 8)
        s.put(0, y, f"{a + 8 * y:04X} " + "".join(f"{v:02X}" + (" " if s.d.columns > 32 else "") for v in data), i)
        s.put(s.d.columns - 8, y, "".join(chr(v) if 32 <= v < 127 else "." for v in data), i)


def game(rng, s):
    """Sky, ground, figures, score: coloured cells all over."""
    bright = 8 if s.kind == "attr" and rng.random() < .6 else 0
    sky, ground = (int(rng.choice([0, 1, 5])), int(rng.choice([2, 4, 6]))) if s.kind == "attr" else (int(rng.choice([0, 8, 14])), int(rng.choice([6, 5, 12])))
    colours = [c | bright for c in range(1, 8)] if s.kind == "attr" else list(range(2, 16))
    s.clear(sky | bright, 7 | bright if s.kind == "attr" else 3, int(rng.choice(colours)) if rng.random() < .5 else 0)
    floor = s.d.rows - int(rng.integers(4, 9))
    for x in range(s.d.columns):
        h = floor + int(rng.integers(0, 2))
        s.solid(x, h, 1, s.d.rows - h, ground | bright if s.kind == "attr" else ground)
    for _ in range(int(rng.integers(15, 50))):
        x, y, c = int(rng.integers(0, s.d.columns)), int(rng.integers(2, floor)), int(rng.choice(colours))
        for dy in range(int(rng.integers(1, 3))):
            for dx in range(int(rng.integers(1, 4))):
                s.block(x + dx, y + dy, int(rng.integers(0, 128)), c)
    for _ in range(5):
        s.solid(int(rng.integers(0, s.d.columns - 5)), int(rng.integers(4, floor)), int(rng.integers(2, 8)), 1, int(rng.choice(colours)))
    s.put(1, 0, f"SCORE {rng.integers(0, 99999):06d}", colours[-1])
    s.put(s.d.columns - 9, 0, f"LIVES {rng.integers(1, 6)}", colours[0])


def bars(rng, s):
    """Test program: colours, stripes, a ramp of codes."""
    s.clear(0, 7 if s.kind == "attr" else 3, int(rng.choice([0, 1, 7])))
    n = 8 if s.kind == "attr" else 16
    w = s.d.columns // n
    order = list(range(n)) if rng.random() < .5 else list(range(n))[::-1]
    half = int(rng.integers(8, 14))
    for k, c in enumerate(order):
        s.solid(k * w, 1, w, half, c)
        s.solid(k * w, half + 1, w, 3, c | 8 if s.kind == "attr" else order[-1 - k])
    for k in range(s.d.columns):
        s.block(k, half + 5, k if rng.random() < .9 else 15, 7 if s.kind == "attr" else 3)
        s.block(k, half + 6, 32 + k % 16, int(order[k % n]) or 7)
    s.put(2, half + 8, f"TEST {rng.integers(1, 20)} OF {rng.integers(20, 30)}", 7 if s.kind == "attr" else 3)
    if s.kind == "attr" and rng.random() < .5:
        s.put(20, half + 8, "FLASH", 7, flash=True)


def glyphs(rng, s):
    """Every code in turn, as test programs show them."""
    p, i, b = pair(rng, s)
    s.clear(p, i, b)
    if s.kind == "attr":
        for k in range(s.d.rows * 32):
            s.pixels[k // 32, k % 32] = s.font[(k + 32) % 256]
            if rng.random() < .15:
                s.ink[k // 32, k % 32] = s.both(int(rng.integers(8)), int(rng.integers(8)))
    else:
        for k in range(1000):
            s.cell[k // 40, k % 40] = k % 256
        s.ink[:] = np.arange(25)[:, None] % 15 + 1 if rng.random() < .5 else i


def fill(rng, s):
    """A byte all over memory."""
    byte = int(rng.choice([0x55, 0xAA, 0x00, 0xFF, 0x0F, 0xF0, 0x33, 0xE4, 0x47, 0x38]))
    p, i, b = pair(rng, s)
    s.clear(p, i, b)
    s.fill = byte
    if s.kind == "attr":
        s.mem[:6912] = byte
    else:
        s.mem[:1000] = byte
        s.colour[:1000] = i


def wake(rng, s):
    """Memory never written: cells wake by rows of the chip toward one value or the other, some against it."""
    kind = rng.integers(3)
    a = np.arange(16384)
    period = int(rng.choice([2, 4, 8, 16, 64, 128]))
    side = (a // period & 1) ^ (a >> 7 & (1 if kind == 1 else 0))
    lanes = rng.random(8) < (.5 if kind == 2 else .1)
    out = np.zeros(16384, np.uint8)
    for b in range(8):
        bit = side ^ lanes[b] ^ (rng.random(16384) < rng.choice([.01, .04, .1]))
        out |= (bit << b).astype(np.uint8)
    s.mem[:] = out
    c = np.arange(1024)
    s.colour[:] = np.where((c // int(rng.choice([4, 8, 16])) & 1) ^ (rng.random(1024) < .08), 15, 0) ^ rng.integers(0, 2, 1024)
    if s.kind == "attr":
        s.border = int(rng.choice([0, 7, 7, rng.integers(8)]))
    else:
        s.border, s.background = int(rng.integers(16)), int(rng.integers(16))


MAKERS = {"boot": boot, "listing": listing, "menu": menu, "page": page, "dump": dump, "game": game, "bars": bars, "glyphs": glyphs, "fill": fill, "wake": wake}
USUAL = ("boot", "boot", "listing", "menu", "page", "dump", "game", "game", "bars", "glyphs", "fill")
COLOURFUL = ("game", "game", "bars", "menu")
PLAIN_BYTES = ("fill", "wake")


def draw(rng, d, name):
    s = Scene(rng, d)
    MAKERS[name](rng, s)
    s.name = name
    return s if name in PLAIN_BYTES else s.store()
