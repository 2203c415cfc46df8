"""What the machine shows: screens as people have them on a bench, for both sorts of display."""
import numpy as np

import fonts
from canvas import Bitmap, Codes

WORDS = ("LOAD SAVE PRINT INPUT DATA READ NEXT CLOCK PORT VALUE TABLE START LEVEL SCORE PLAYER DISK TAPE FILE COPY BLOCK ERROR CHECK MEMORY "
         "SPRITE SOUND COLOUR SCREEN KEYS JOY MAZE ROBOT COMET GARDEN CASTLE RIVER LEDGER STOCK NAMES ADDRESS LETTER PRICES TIMER").split()


def word(rng, low=False):
    w = WORDS[rng.integers(len(WORDS))]
    return w.lower() if low else w


def phrase(rng, n, low=True):
    """About n characters of words."""
    out = ""
    while len(out) < n:
        out += word(rng, low and rng.random() < 0.8) + (" " if rng.random() < 0.85 else ", ")
    return out[:n].rstrip()


def boot(v, rng):
    """After switching on, with nothing loaded."""
    if v.kind == "attr" and rng.random() < 0.6:
        v.put(0, 23, f"(C) 198{rng.integers(1, 8)} {word(rng).title()} Works Ltd")
        return
    v.put(1 + int(rng.integers(6)), 1, f"=== {word(rng)} WORKS V{rng.integers(1, 5)}.{rng.integers(10)} ==="[:v.cols - 2])
    v.put(1, 3, f"{rng.integers(3, 48)}{rng.integers(100, 999)} BYTES LEFT")
    v.put(0, 5, ["BEGIN.", "Ok", "Ready", ">"][rng.integers(4)])
    v.tile(0, 6, 15)


def directory(v, rng):
    v.put(0, 0, f'0 "{word(rng)} {word(rng)}"'.ljust(22)[:22], None, 7 if v.kind == "text" else None)
    n = int(rng.integers(8, v.rows - 4))
    for i in range(n):
        v.put(0, 1 + i, f'{rng.integers(1, 200):<4d} "{word(rng)}{rng.integers(1, 99)}"'.ljust(22) + ["RUN", "TXT", "DAT", "PIC"][rng.integers(4)])
    v.put(0, n + 1, f"{rng.integers(1, 600)} PIECES LEFT.")
    v.put(0, n + 2, "BEGIN.")


def listing(v, rng):
    """A program's lines; half of the screens are not full."""
    n, number = int(rng.integers(9, v.rows - 2)), 10 * int(rng.integers(1, 30))
    forms = ["FOR {a}=1 TO {n}", "NEXT {a}", 'PRINT "{w}";{a}', "LET {a}={a}+{n}", "IF {a}>{n} THEN GOTO {g}", "GOSUB {g}", "REM {w} {w2}", "POKE {g},{n}",
             "DATA {n},{m},{n},{m},17", "READ {a},{b}: LET {b}={b}*{n}", "DIM {a}({n},{m})", "INPUT \"{w}? \";{a}$", "RETURN"]
    r = 0
    while r < n:
        f = forms[rng.integers(len(forms))]
        s = f"{number:4d} " + f.format(a=chr(65 + rng.integers(26)), b=chr(65 + rng.integers(26)), n=rng.integers(2, 250), m=rng.integers(2, 99),
                                       g=10 * rng.integers(1, 900), w=word(rng), w2=word(rng, True))
        for k in range(0, len(s), v.cols):
            v.put(0, r, s[k:k + v.cols])
            r += 1
        number += 10
    v.put(0, min(r + 1, v.rows - 1), "OK AT 0:1" if v.kind == "attr" else "BEGIN.")


def menu(v, rng):
    """A frame with choices, one of them lit."""
    w, h = int(rng.integers(18, v.cols - 4)), int(rng.integers(9, 17))
    c, r = (v.cols - w) // 2, (v.rows - h) // 2
    ink, paper = int(rng.integers(5, 8)), int(rng.integers(0, 3))
    if v.kind == "attr":
        for y in range(r, r + h):
            v.put(c, y, " " * w, ink, paper)
    for x in range(c, c + w):
        v.tile(x, r, 28, ink, paper)
        v.tile(x, r + h - 1, 28, ink, paper)
    for y in range(r, r + h):
        v.tile(c, y, 19, ink, paper)
        v.tile(c + w - 1, y, 19, ink, paper)
    for (x, y), k in zip(((c, r), (c + w - 1, r), (c, r + h - 1), (c + w - 1, r + h - 1)), (26, 22, 25, 21)):
        v.tile(x, y, k, ink, paper)
    paper = paper if v.kind == "attr" else None
    v.put(c + 2, r, f" {word(rng)} MENU "[:w - 4], ink, paper)
    lit = int(rng.integers(h - 4))
    for i in range(h - 4):
        s = f"{i + 1}. {phrase(rng, w - 8).capitalize()}".ljust(w - 4)[:w - 4]
        v.put(c + 2, r + 2 + i, s, paper if v.kind == "attr" and i == lit else ink, ink if i == lit else paper)
    v.put(1, v.rows - 1, "Use arrows, then ENTER"[:v.cols - 2])


def bars(v, rng):
    """Eight colours; on bitmaps the lower half at the other brightness."""
    w = v.cols // 8
    for r in range(v.rows - 2):
        for c in range(v.cols):
            k = 7 - min(c // w, 7)
            if v.kind == "attr":
                v.put(c, r, " ", 0 if k > 3 else 7, k, bright=int(r < v.rows // 2))
            else:
                v.tile(c, r, 15, k)
                v.colour[r, c] = (c // 5 + 8 * (r > 11)) % 16 if r % 12 else v.nibble(7)
    v.put(1, v.rows - 1, f"COLOUR {phrase(rng, 14, False)}")


def mosaic(v, rng):
    """Tiles at random in colours at random, in runs."""
    k, ink, paper = 0, 7, 0
    some = rng.integers(1, 64, 14)
    for r in range(v.rows):
        for c in range(v.cols):
            if rng.random() < 0.4:
                ink, paper, k = int(rng.integers(8)), int(rng.integers(8)), int(some[rng.integers(14)])
            v.tile(c, r, k, ink, paper, bright=int(rng.integers(2)))


def fill(v, rng):
    """One byte everywhere, as a memory test leaves it; returns it."""
    byte = int(rng.choice([0x55, 0xAA, 0xFF, 0x00, 0x0F, 0xF0, 0x33, int(rng.integers(256))], p=[.2, .2, .12, .08, .08, .08, .08, .16]))
    if v.kind == "attr":
        v.pix[:] = np.tile(np.unpackbits(np.uint8([byte])).astype(bool), 32)
        v.colour[:] = byte
    else:
        v.codes[:] = byte
    return byte


def cursor(v, rng):
    """An empty screen with a cursor."""
    r = int(rng.integers(v.rows))
    if v.kind == "attr":
        v.put(0, r, ["K", "L", ">", " "][rng.integers(4)], None, None, True)
    else:
        v.put(0, r, "]")
        v.tile(1, r, 15)


def editor(v, rng):
    """Words in lines, a ruler above, a state line below."""
    v.put(0, 0, f" {word(rng)}.TXT   Line {rng.integers(1, 99)} Col {rng.integers(1, 40)}".ljust(v.cols)[:v.cols], 7, 1)
    v.put(0, 1, ("----+----|" * 4)[:v.cols])
    for r in range(2, v.rows - 1):
        if rng.random() < 0.8:
            v.put(0, r, phrase(rng, int(rng.integers(v.cols // 3, v.cols))).capitalize())
    v.put(0, v.rows - 1, " F1 Help  F3 Save  F8 Quit".ljust(v.cols)[:v.cols], 7, 1)


def game(v, rng):
    """Ledges, ladders, figures drawn into the bitmap, a state line."""
    v.put(0, 0, f"SCORE {rng.integers(0, 99999):05d}  HI {rng.integers(0, 99999):05d}  MEN {rng.integers(1, 6)}"[:v.cols], 6, 0)
    for r in range(4, v.rows, 4):
        a, b = int(rng.integers(0, 8)), int(rng.integers(v.cols - 9, v.cols))
        for c in range(a, b):
            v.tile(c, r, [13, 15, 52, 59][(r // 4) % 4], int(2 + r // 4 % 5), 0)
        x = int(rng.integers(a, b))
        for y in range(r - 3, r):
            v.tile(x, y, 25 if v.kind == "attr" else 19, 5, 0)
    for _ in range(int(rng.integers(8, 20))):
        c, r, ink = int(rng.integers(v.cols - 2)), int(rng.integers(2, v.rows - 2)), int(rng.integers(2, 8))
        if v.kind == "text":
            v.tile(c, r, int(rng.integers(48, 64)), ink, 0)
            continue
        half = rng.random((16, 8)) < 0.55
        s = np.hstack([half, half[:, ::-1]])  # a figure is the same left and right
        x, y = 8 * c + int(rng.integers(0, 8)), 8 * r + int(rng.integers(0, 8))
        v.pix[y:y + 16, x:x + 16] |= s[:192 - y, :256 - x]
        v.colour[y // 8:(y + 23) // 8, x // 8:(x + 23) // 8] = v.attr(ink, 0)


def title(v, rng):
    """A game's title in letters of many cells, with stars."""
    name = word(rng)[:v.cols // 9 + 1]
    big = np.hstack([fonts.glyph(c, "bold") for c in name])
    h, w = (2, 1) if v.kind == "attr" and rng.random() < 0.5 else (1, 1)
    c0 = max((v.cols - big.shape[1] * w) // 2, 0)
    for y in range(8):
        for x in range(big.shape[1]):
            if big[y, x]:
                for k in range(h):
                    v.tile(c0 + x, 2 + y * h + k, 15, int(2 + (y * 3 // 4) % 6), 0)
    for _ in range(60):
        c, r = int(rng.integers(v.cols)), int(rng.integers(v.rows))
        if r not in range(2, 2 + 8 * h) and r not in (20, 22):
            v.put(c, r, "."if rng.random() < 0.7 else "*", int(rng.integers(1, 8)), 0 if v.kind == "attr" else None)
    v.put((v.cols - 17) // 2, 20, "PRESS FIRE TO RUN", 7, 0 if v.kind == "attr" else None, rng.random() < 0.5)
    v.put((v.cols - 16) // 2, 22, f"(C) 198{rng.integers(2, 9)} {word(rng)}", 5, 0 if v.kind == "attr" else None)


def chart(v, rng):
    """Bars over an axis; on bitmaps in half of the cases a calculated curve."""
    v.put(3, 0, phrase(rng, 22, False))
    for r in range(2, v.rows - 3):
        v.put(0, r, f"{(v.rows - 3 - r) * 5:3d}" if r % 3 == 0 else "   ")
        v.tile(3, r, 19)
    for c in range(3, v.cols - 1):
        v.tile(c, v.rows - 3, 28)
    if v.kind == "attr" and rng.random() < 0.6:
        x = np.arange(32, 248)
        for k in range(3):
            f, p = rng.uniform(0.01, 0.08), rng.uniform(0, 6)
            y = 90 + 60 * np.sin(f * x + p) * np.exp(-x * rng.uniform(0, 0.01))
            for a, b, yy in zip(x, y, np.roll(y, 1)):
                lo, hi = sorted((int(b), int(yy) if a > 32 else int(b)))
                v.pix[lo:hi + 1, a] = True
        return
    h = rng.integers(2, v.rows - 7, 12)
    for i in range((v.cols - 6) // 3):
        for r in range(int(h[i % 12])):
            for k in range(2):
                v.tile(5 + 3 * i + k, v.rows - 4 - r, 15, 1 + i % 6)
    v.put(4, v.rows - 2, "  ".join("JFMAMJJASOND"[i % 12] for i in range((v.cols - 6) // 3)))


def picture(v, rng):
    """A drawn scene in ordered dither: sky, hills, a ball."""
    y, x = np.mgrid[:192, :256]
    hill = 110 + 25 * np.sin(x * rng.uniform(.01, .05) + rng.uniform(0, 6)) + 12 * np.sin(x * rng.uniform(.05, .12))
    sky = y / 190
    cx, cy, r = rng.uniform(60, 200), rng.uniform(30, 90), rng.uniform(18, 40)
    d = np.hypot(x - cx, y - cy)
    tone = np.where(y > hill, 0.25 + 0.6 * ((y - hill) / 90), sky)
    tone = np.where(d < r, 1 - np.hypot(x - cx + r / 3, y - cy + r / 3) / (1.6 * r), tone)
    bayer = np.array([[0, 8, 2, 10], [12, 4, 14, 6], [3, 11, 1, 9], [15, 7, 13, 5]]) / 16 + 1 / 32
    v.pix = tone > np.tile(bayer, (48, 64))
    land, ball = v.attr(0, 4), v.attr(6, 2)
    for r_ in range(24):
        for c in range(32):
            yy, xx = 8 * r_ + 4, 8 * c + 4
            v.colour[r_, c] = ball if d[yy, xx] < r else land if yy > hill[yy, xx] else v.attr(7 if r_ < 8 else 5, 1 if r_ < 11 else 5 - 4 * (r_ < 6), False)


def loading(v, rng):
    """A picture of which only part has come yet, in the order of addresses; colours come last."""
    picture(v, rng) if v.kind == "attr" else mosaic(v, rng)
    if v.kind == "attr":
        end = int(rng.integers(1500, 6000))
        yy, cc = np.mgrid[:192, :32]
        gone = np.repeat(v.d.bitmap_address(yy, cc) >= end, 8, axis=1)
        v.pix[gone] = False
        v.colour[:] = v.bright | v.paper << 3 | v.ink
    else:
        end = int(rng.integers(300, 900))
        v.codes.ravel()[end:] = 32
        v.colour.ravel()[end:] = v.ink


def grid(v, rng):
    """A test card: a net, circles, words."""
    if v.kind == "attr":
        y, x = np.mgrid[:192, :256]
        v.pix |= (x % 32 == 0) | (y % 32 == 0) | (x == 255) | (y == 191)
        for r in (40, 85):
            v.pix |= abs(np.hypot(x - 128, y - 96) - r) < 0.7
        for i in range(8):
            v.put(12 + i, 11, " ", 7 - i, i)
    else:
        for r in range(25):
            for c in range(40):
                v.tile(c, r, 31 if r % 4 == 0 and c % 4 == 0 else 28 if r % 4 == 0 else 19 if c % 4 == 0 else 0, 1 + (r // 4) % 7)
    v.put(v.cols // 2 - 5, 2, f" TEST {rng.integers(1, 99):02d} ")


def blank(v, rng):
    """Nothing in the memory."""


SCENES = {"boot": (boot, 9), "directory": (directory, 8), "listing": (listing, 9), "menu": (menu, 9), "bars": (bars, 7), "mosaic": (mosaic, 6),
          "fill": (fill, 5), "cursor": (cursor, 2), "editor": (editor, 8), "game": (game, 9), "title": (title, 7), "chart": (chart, 7),
          "picture": (picture, 7), "loading": (loading, 5), "grid": (grid, 7), "blank": (blank, 2)}
RICH = ("mosaic", "game", "bars", "menu", "picture", "title", "grid", "loading", "chart", "editor", "listing", "directory")


def draw(d, rng, only=None):
    """A screen: the canvas, its name, the fill byte or None, the font's sort and rule."""
    names = [n for n in SCENES if (only is None or n in only) and not (d.kind == "text" and n == "picture")]
    p = np.array([SCENES[n][1] for n in names], float)
    name = str(rng.choice(names, p=p / p.sum()))
    rule, sort = str(rng.choice(list(fonts.RULES))), str(rng.choice(["inverse", "graphics"]))
    if d.kind == "attr":
        dark = name in ("game", "title") or rng.random() < 0.4
        ink, paper = (7, 0) if dark else [(0, 7), (0, 7), (0, 6), (7, 1), (1, 5)][rng.integers(5)]
        border = paper if rng.random() < 0.55 else int(rng.integers(8))
        v = Bitmap(d, rng, rule, ink, paper, border, rng.random() < 0.35)
    else:
        paper = int(rng.choice([0, 0, 8, 1, 6, 3])) if name not in ("game", "title") else 0
        ink = int(rng.choice([3, 14, 12, 11])) if paper != 3 else int(rng.choice([0, 8, 4]))
        border = paper if rng.random() < 0.4 else int(rng.integers(16))
        v = Codes(d, rng, sort, ink, paper, border)
    byte = SCENES[name][0](v, rng)
    return v, name, byte, sort, rule
