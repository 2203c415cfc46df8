"""What software has put on the screen: display memory, colours, border.

A Screen holds 16384 bytes of the display's bank (what lies beyond the screen too, for a
folded address may show it), 1024 colour nibbles (text displays), border and background."""
from dataclasses import dataclass, field

import numpy as np

WORDS = ("READY OK PRINT LIST LOAD SAVE TAPE MEMORY BYTES FREE TEST PASS GAME SCORE LIVES START "
         "LEVEL OPTIONS KEYS SOUND COLOUR EXIT THEN GOTO NEXT INPUT LET DIM READ DATA RETURN STOP "
         "north south east west tower river stone light engine window paper ink value total line "
         "sum first last open close door key map room table count").split()


@dataclass
class Screen:
    name: str
    mem: np.ndarray
    colour: np.ndarray
    border: int
    background: int = 0
    fill: int = None
    cursor: tuple = None           # (address, fields a half period)
    font_name: str = ""
    rom: np.ndarray = None
    extra: dict = field(default_factory=dict)


def bitmap_address(y, c):
    """A12..A0 = y7 y6 y2 y1 y0 y5 y4 y3 c4..c0."""
    return (y >> 6 << 11) | ((y & 7) << 8) | ((y >> 3 & 7) << 5) | c


def unused(rng):
    """Program and tables behind the screen: runs of zeros, code-like bytes, repeats."""
    m = np.zeros(16384, np.uint8)
    p = 0
    while p < 16384:
        n = int(rng.integers(64, 1500))
        k = rng.integers(4)
        if k == 1:
            m[p:p + n] = rng.integers(0, 256, len(m[p:p + n]))
        elif k == 2:
            m[p:p + n] = rng.integers(0, 256)
        elif k == 3:
            m[p:p + n] = np.resize(rng.integers(0, 256, 16), len(m[p:p + n]))
        p += n
    return m


def sentence(rng, n):
    out = []
    while sum(len(w) + 1 for w in out) < n:
        w = WORDS[rng.integers(len(WORDS))] if rng.random() < .85 else str(rng.integers(0, 40000))
        out.append(w + ("", "", "", ",", ".", ":", ";", "=", "(")[rng.integers(9)])
    return " ".join(out)[:n]


def wake(rng, n=16384):
    """Memory as it wakes: each chip its own stripes of rows and columns, and odd cells."""
    a = np.arange(n)
    m = np.zeros(n, np.uint8)
    period = int(2 ** rng.integers(1, 8))
    alike = rng.random() < .5
    for b in range(8):
        p = period if alike else int(2 ** rng.integers(0, 8))
        bit = (a // p & 1) ^ (0 if alike else rng.integers(2))
        if rng.random() < .3:
            bit ^= a >> 12 & 1
        bit = bit ^ (rng.random(n) < rng.uniform(.002, .12))
        m |= (bit.astype(np.uint8) << b).astype(np.uint8)
    return m


class Text:
    """A grid of cells with characters and colours, then put into either memory."""

    def __init__(self, p, ink, paper):
        self.p = p
        self.ch = np.full((p.rows, p.cols), 32, int)
        self.ink = np.full((p.rows, p.cols), ink, int)
        self.paper = np.full((p.rows, p.cols), paper, int)
        self.flash = np.zeros((p.rows, p.cols), bool)

    def put(self, r, c, s, ink=None, inverse=False):
        for i, k in enumerate(s):
            if r < self.p.rows and c + i < self.p.cols:
                self.ch[r, c + i] = ord(k) + (128 if inverse else 0)
                if ink is not None:
                    self.ink[r, c + i] = ink


def contrast(rng, p, other):
    """A colour that can be told from another."""
    if p.text:
        dark, light = [0, 1, 4, 5, 6, 7, 8, 9], [2, 3, 10, 11, 12, 13, 14, 15]
        return int(rng.choice(light if other in dark else dark))
    g = (0, 1, 2, 3, 4, 5, 6, 7)
    w = (0, 11, 30, 41, 59, 70, 89, 100)
    ok = [i for i in g if abs(w[i] - w[other & 7]) > 28]
    return int(rng.choice(ok))


def compose(rng, p, kind):
    ncol = 16 if p.text else 8
    paper = int(rng.choice([0, 7, 1, 6][:4] if not p.text else [0, 0, 8, 1, 3, 5])) if rng.random() < .7 \
        else int(rng.integers(ncol))
    t = Text(p, contrast(rng, p, paper), paper)
    if kind == "boot":
        r = int(rng.integers(0, p.rows - 4))
        for i in range(int(rng.integers(1, 4))):
            t.put(r + i * int(rng.integers(1, 3)), int(rng.integers(0, 6)), sentence(rng, int(rng.integers(8, 30))))
    elif kind == "listing":
        n = int(rng.integers(1, 20)) * 10
        for r in range(int(rng.integers(12, p.rows + 1))):
            t.put(r, 0, f"{n + 10 * r:4d} " + sentence(rng, int(rng.integers(5, p.cols - 6))))
    elif kind == "menu":
        for _ in range(int(rng.integers(2, 6))):
            h, w = int(rng.integers(2, 9)), int(rng.integers(6, p.cols - 4))
            r, c = int(rng.integers(0, p.rows - h)), int(rng.integers(0, p.cols - w))
            col = int(rng.integers(ncol))
            t.paper[r:r + h, c:c + w] = col
            t.ch[r:r + h, c:c + w] = 160 if p.text and rng.random() < .6 else 32
            t.ink[r:r + h, c:c + w] = contrast(rng, p, paper if p.text else col)
            for i in range(1, h - 1):
                t.put(r + i, c + 1, sentence(rng, int(rng.integers(3, w - 1))), inverse=p.text and t.ch[r, c] == 160)
            if not p.text and rng.random() < .4:
                t.flash[r + h // 2, c:c + w] = True
    elif kind == "bars":
        cols = rng.permutation(ncol) if rng.random() < .5 else np.arange(ncol)
        w = p.cols // 8
        top = p.rows // 2 + int(rng.integers(-3, 4))
        for i in range(8):
            t.paper[:top, i * w:(i + 1) * w] = cols[i]
            if p.text:
                t.ch[:top, i * w:(i + 1) * w] = 160
                t.ink[:top, i * w:(i + 1) * w] = cols[i]
                if rng.random() < .3:
                    t.ink[:top // 2, i * w:(i + 1) * w] = cols[i + 8]
        for i in range(top + 1, p.rows, int(rng.integers(1, 4))):
            t.put(i, int(rng.integers(0, 8)), sentence(rng, int(rng.integers(8, 24))))
    else:                                             # busy: on text displays, all sorts of codes
        t.ch = rng.integers(0, 256, t.ch.shape)
        if rng.random() < .5:
            t.ch = np.resize(np.arange(256), t.ch.size).reshape(t.ch.shape)
        t.ink = rng.integers(0, ncol, t.ink.shape) if rng.random() < .6 else t.ink
    return t, paper


def picture(rng, mem):
    """A busy bitmap: shapes, patterns, ordered dithering."""
    y, x = np.indices((192, 256))
    px = np.zeros((192, 256), bool)
    for _ in range(int(rng.integers(6, 22))):
        cx, cy, r = rng.integers(0, 256), rng.integers(0, 192), rng.integers(8, 70)
        k = rng.integers(4)
        m = (np.hypot(x - cx, y - cy) < r, (abs(x - cx) < r) & (abs(y - cy) < r // 2),
             (y - cy > 0) & (y - cy < r) & (abs(x - cx) < y - cy), abs((x - cx) * 3 - (y - cy) * 2) < 5)[k]
        d = rng.integers(5)
        fill = (np.ones_like(px), (x + y) % 2 == 0, (x * y // 3) % 4 == 0, rng.random(px.shape) < .4, x % 3 == 0)[d]
        px = np.where(m, fill ^ (px & (rng.random() < .3)), px)
    if rng.random() < .4:
        bayer = np.array([[0, 8, 2, 10], [12, 4, 14, 6], [3, 11, 1, 9], [15, 7, 13, 5]])
        px[96:] = ((x + y * .4) / 360 * 16 > np.tile(bayer, (48, 64)))[96:]
    b = np.packbits(px, axis=1)
    yy, cc = np.indices((192, 32))
    mem[bitmap_address(yy, cc)] = b


KINDS = ("boot", "listing", "menu", "busy", "bars")


def make(rng, p, rom, font_name, want_flash=False):
    mem = unused(rng)
    colour = rng.integers(0, 16, 1024).astype(np.uint8)
    name = "fill" if rng.random() < .10 and not want_flash else KINDS[rng.choice(5, p=(.22, .2, .22, .18, .18))]
    fill = None
    ncol = 16 if p.text else 8
    if name == "fill":
        fill = int(rng.choice([0, 255, 0x55, 0xaa]))
        mem[:1024 if p.text else 6912] = fill
        paper = int(rng.integers(ncol))
        colour[:] = contrast(rng, p, paper)
    else:
        t, paper = compose(rng, p, name)
        if p.text:
            mem[:1000] = t.ch.reshape(-1)
            colour[:1000] = t.ink.reshape(-1)
        else:
            yy, cc = np.indices((192, 32))
            mem[bitmap_address(yy, cc)] = rom[t.ch[yy >> 3, cc], yy & 7]
            share = rng.choice([0, 0, 1, .4])
            bright = (rng.random((6, 8)) < share).repeat(4, 0).repeat(4, 1)
            if name == "busy" and rng.random() < .4:
                bright = rng.random((24, 32)) < share
            if name == "busy":
                picture(rng, mem)
                one = rng.random() < .3
                t.ink = t.ink * 0 + (t.ink[0, 0] if one else rng.integers(0, 8, t.ink.shape))
                t.paper = t.paper * 0 + (paper if one else rng.integers(0, 8, (6, 8)).repeat(4, 0).repeat(4, 1))
            if want_flash or rng.random() < .15:
                for _ in range(int(rng.integers(1, 5))):
                    r, c, n = rng.integers(0, 24), rng.integers(0, 26), rng.integers(1, 12)
                    t.flash[r, c:c + n] = True
                    same = t.ink[r, c:c + n] == t.paper[r, c:c + n]
                    t.ink[r, c:c + n] = np.where(same, t.paper[r, c:c + n] ^ 7, t.ink[r, c:c + n])
            mem[6144:6912] = (t.flash * 128 | bright * 64 | t.paper << 3 | t.ink).reshape(-1)
    border = paper if rng.random() < .5 else int(rng.integers(ncol))
    s = Screen(name, mem, colour, border, paper if p.text else 0, fill, rom=rom, font_name=font_name)
    if p.text and name in ("boot", "listing") and rng.random() < .25:
        s.cursor = (int(rng.integers(0, 1000)), int(rng.integers(8, 24)))
    return s
