"""What software has put into the display memory."""
import numpy as np

WORDS = ("the quick valve reads a long table of slow numbers while each small lamp waits for its turn to blink over river stone and paper "
         "under north light count every second step before door seven opens to a field of grass green copper zinc amber tin").split()
KEYS = ["LET {v}={n}", "PRINT {v};\" UNITS\"", "GOTO {l}", "IF {v}>{n} THEN {l}", "FOR {v}=1 TO {n}", "NEXT {v}", "GOSUB {l}", "RETURN", "INPUT {v}",
        "REM {w} {w}", "POKE {n},{v}", "DATA {n},{n},{n}", "READ {v}", "PRINT \"{w} {w} {w}\"", "DIM {v}({n})", "STOP"]
KINDS = ["boot", "listing", "menu", "game", "bars", "pattern", "fill", "full", "table"]
WEIGHT = [0.17, 0.15, 0.13, 0.2, 0.08, 0.07, 0.06, 0.08, 0.06]


ATTR_LUMA = [0, 0.114, 0.299, 0.413, 0.587, 0.701, 0.886, 1]
TEXT_LUMA = [0, 0.33, 0.66, 1] + [0.35] * 6 + [0.70] * 6


def legible(r, luma, least):
    """Paper and ink that a person can read."""
    while True:
        a, b = (int(v) for v in r.choice(len(luma), 2, replace=False))
        if abs(luma[a] - luma[b]) > least:
            return a, b


def sentence(r, n):
    return " ".join(r.choice(WORDS) for _ in range(n))


def listing_line(r, number):
    t = str(r.choice(KEYS))
    while "{" in t:
        for key, make in (("{v}", lambda: chr(65 + r.integers(26))), ("{n}", lambda: str(r.integers(2, 999))), ("{l}", lambda: str(10 * r.integers(1, 90))),
                          ("{w}", lambda: str(r.choice(WORDS)))):
            t = t.replace(key, make(), 1)
    return f"{number:4d} {t}"


def text_lines(kind, r, cols, rows):
    """(row, column, text) items."""
    out = []
    if kind == "boot":
        top = int(r.integers(0, 4))
        for k, t in enumerate([f"Monitor {r.integers(1, 9)}.{r.integers(10)}", f"{r.choice([16, 32, 48, 64])}K of memory, {r.integers(2000, 40000)} bytes free", "", sentence(r, 3) + ".", "Ready"][:int(r.integers(3, 6))]):
            out.append((top + k, int(r.integers(0, 2)) if k == 0 else 0, t))
        if r.random() < 0.4:
            out.append((rows - 1, 0, "K>"))
    elif kind == "listing":
        number, step = int(r.integers(1, 20)) * 10, int(r.choice([5, 10, 10, 20]))
        for row in range(int(r.integers(9, rows))):
            out.append((row, 0, listing_line(r, number)))
            number += step
    elif kind == "menu":
        out.append((1, 6, sentence(r, 3).upper()))
        for k in range(int(r.integers(4, 9))):
            out.append((4 + 2 * k, 4, f"{k + 1}. {sentence(r, int(r.integers(2, 4)))}"))
        out.append((rows - 2, 2, "Press a key to choose"))
    elif kind == "full":
        for row in range(rows):
            t = ""
            while len(t) < cols:
                t += (sentence(r, 3).capitalize() + ". ") if r.random() < 0.7 else f"{r.integers(0, 99999)} "
            out.append((row, 0, t[:cols]))
    elif kind == "table":
        out.append((0, 1, " ".join(sentence(r, 1).capitalize().ljust(7) for _ in range(4))))
        for row in range(2, int(r.integers(10, rows))):
            out.append((row, 1, " ".join(str(r.integers(1, 99999)).rjust(7) for _ in range(4))))
    return [(row, col, t[:cols - col]) for row, col, t in out if row < rows]


def sprite(r):
    g = (r.random((8, 4)) < 0.55).astype(np.uint8)
    g[:, 0] &= (r.random(8) < 0.4)
    return np.packbits(np.concatenate([g, g[:, ::-1]], 1), axis=1)[:, 0]


def put(bitmap, row, col, rows8):
    bitmap[row * 8:row * 8 + 8, col] = rows8


def attr(kind, r, font):
    """Bitmap (192, 32) and colours (24, 32), border, fill."""
    bitmap, colours = np.zeros((192, 32), np.uint8), np.zeros((24, 32), np.uint8)
    style = r.random()
    paper, ink = (7, 0) if style < 0.4 else (0, 7) if style < 0.6 else (1, 7) if style < 0.7 else legible(r, ATTR_LUMA, 0.25)
    bright = 64 if r.random() < 0.3 else 0
    colours[:] = bright | paper << 3 | ink
    border = paper if r.random() < 0.65 else int(r.integers(8))
    fill = None
    if kind in ("boot", "listing", "menu", "full", "table"):
        for row, col, t in text_lines(kind, r, 32, 24):
            for k, ch in enumerate(t):
                put(bitmap, row, col + k, font[ord(ch) & 127])
        if kind == "menu":
            if r.random() < 0.7:
                a, b = legible(r, ATTR_LUMA, 0.25)
                colours[0:3] = 64 | a << 3 | b
            for k in range(4, 20, 2):
                if r.random() < 0.4:
                    colours[k] = (colours[k] & 0xF8) | int(r.choice([v for v in range(8) if abs(ATTR_LUMA[v] - ATTR_LUMA[paper]) > 0.15]))
        if r.random() < 0.35:
            row, col = int(r.integers(24)), int(r.integers(28))
            colours[row, col:col + int(r.integers(1, 4))] |= 128
            if not bitmap[row * 8:row * 8 + 8, col].any():
                put(bitmap, row, col, font[ord("L")])
    elif kind == "game":
        tiles = [sprite(r) for _ in range(10)] + [np.array([255, 129, 189, 165, 165, 189, 129, 255], np.uint8), np.array([0x11, 0x44] * 4, np.uint8)]
        sky, ground = int(r.choice([0, 1, 5])), int(r.choice([4, 6, 2, 3]))
        horizon = int(r.integers(12, 19))
        colours[:horizon], colours[horizon:] = sky << 3 | 7, 64 * int(r.random() < 0.5) | ground << 3 | int(r.choice([0, 2, 1]))
        for row in range(horizon, 22):
            t = tiles[int(r.integers(10, 12))]
            for col in range(32):
                if r.random() < 0.8:
                    put(bitmap, row, col, t)
        for _ in range(int(r.integers(14, 60))):
            row, col, k = int(r.integers(2, 21)), int(r.integers(31)), int(r.integers(10))
            c = int(r.integers(1, 8))
            for dy in range(int(r.integers(1, 3))):
                for dx in range(int(r.integers(1, 3))):
                    put(bitmap, min(row + dy, 23), min(col + dx, 31), np.roll(tiles[k], dy + dx))
                    cell = colours[min(row + dy, 23), min(col + dx, 31)]
                    colours[min(row + dy, 23), min(col + dx, 31)] = (cell & 0x38) | 64 | c if (cell >> 3 & 7) != c else cell
        for _ in range(4):  # platforms
            row, col, n = int(r.integers(4, horizon)), int(r.integers(24)), int(r.integers(3, 9))
            for k in range(min(n, 32 - col)):
                put(bitmap, row, col + k, tiles[10])
                colours[row, col + k] = int(r.integers(8)) << 3 | int(r.integers(8)) if k == 0 else colours[row, col]
        colours[22:] = 7
        for row, t in ((22, f"SCORE {r.integers(99999):05d}  LIVES {r.integers(1, 9)}"), (23, f"HALL {r.integers(1, 40)}  {sentence(r, 2)}"[:30])):
            put(bitmap, row, 0, font[32])
            for k in range(32):
                put(bitmap, row, k, font[ord(t[k]) & 127] if k < len(t) else font[32])
        if r.random() < 0.4:
            colours[int(r.integers(3, 20)), int(r.integers(32))] |= 128
        border = int(r.choice([0, sky, int(r.integers(8))]))
    elif kind == "bars":
        for col in range(32):
            c = col // 4
            colours[:12, col], colours[12:18, col] = (7 - c) << 3, 64 | (7 - c) << 3 | c
            bitmap[96:144, col] = 0xF0 if col % 2 else 0xAA
        for row in range(18, 24):
            colours[row] = 7 << 3
            for col, ch in enumerate(f"ROM {r.integers(9)}  RAM LOW  RAM HIGH  {r.integers(0, 65535):04X}"[:32]):
                if row % 2:
                    put(bitmap, row, col, font[ord(ch)])
    elif kind == "pattern":
        v = [int(x) for x in r.choice([0xAA, 0x0F, 0x33, 0x81, 0xC3, 0x55, 0x18], 2)]
        for y in range(192):
            bitmap[y] = v[0] if (y >> 3) % 2 == 0 else v[1]
        for row in range(24):
            colours[row] = (row % 8) << 3 | (7 - row % 8) if r.random() < 0.9 else 0x38
        for row in range(2, 22, int(r.integers(3, 7))):
            for col in range(32):
                put(bitmap, row, col, font[32 + (col + row * 7) % 96])
    elif kind == "fill":
        fill = int(r.choice([0x00, 0xFF, 0x55, 0xAA, int(r.integers(256))]))
        bitmap[:], colours[:] = fill, fill
        border = int(r.integers(8))
    mem = np.zeros(16384, np.uint8)
    y = np.arange(192)
    for c in range(32):
        mem[bitmap_address(y, c)] = bitmap[:, c]
    mem[6144:6912] = colours.ravel()
    if r.random() < 0.6:  # programs and their numbers above the screen
        n = int(r.integers(500, 9000))
        mem[6912:6912 + n] = r.integers(0, 256, n) & r.choice([255, 127, 63])
    return {"mem": mem, "border": border, "fill": fill}


def bitmap_address(y, c):
    return (y >> 6) << 11 | (y & 7) << 8 | (y >> 3 & 7) << 5 | c


def text(kind, r, font):
    codes, colours = np.full((25, 40), 32, np.uint8), np.zeros((25, 40), np.uint8)
    size = len(font)
    style = r.random()
    bg, ink = (8, 14) if style < 0.25 else (0, 12) if style < 0.45 else (3, 0) if style < 0.6 else (0, 3) if style < 0.75 else legible(r, TEXT_LUMA, 0.25)
    colours[:] = ink
    border = bg if r.random() < 0.5 else int(r.integers(16))
    fill = None
    graphics = np.arange(1, 32)
    if kind in ("boot", "listing", "menu", "full", "table"):
        for row, col, t in text_lines(kind, r, 40, 25):
            codes[row, col:col + len(t)] = [ord(ch) & 127 for ch in t]
        if kind == "menu":
            for row in range(25):
                if r.random() < 0.3:
                    colours[row] = int(r.choice([c for c in range(16) if abs(TEXT_LUMA[c] - TEXT_LUMA[bg]) > 0.2]))
            if r.random() < 0.6:
                codes[1] = codes[1] | 128 if size == 128 else codes[1]
            codes[0], codes[24] = 16 + 10, 16 + 11
        if kind == "boot" and r.random() < 0.5:
            row = int(r.integers(6, 12))
            codes[row, 0] = 160 if size == 128 else 127  # cursor
    elif kind == "game":
        for _ in range(int(r.integers(20, 60))):
            row, col, w, h = int(r.integers(2, 24)), int(r.integers(38)), int(r.integers(1, 7)), int(r.integers(1, 3))
            codes[row:row + h, col:col + w] = int(r.choice(graphics)) | (128 if r.random() < 0.3 else 0)
            colours[row:row + h, col:col + w] = int(r.choice([c for c in range(16) if c != bg]))
        codes[0] = 32
        t = f"SCORE {r.integers(99999):05d}   TIME {r.integers(999):03d}   ROOM {r.integers(40)}"
        codes[0, :len(t)] = [ord(ch) for ch in t]
        codes[20:22] = int(r.choice(graphics[15:]))
        colours[20:22] = int(r.choice([c for c in range(16) if c != bg]))
    elif kind == "bars":
        for col in range(40):
            codes[:16, col], colours[:16, col] = (160 if size == 128 else 127), (col * 16) // 40
        t = f"CHECK {r.integers(99)}: SCREEN, COLOUR, SOUND"
        codes[18, 1:1 + len(t)] = [ord(ch) for ch in t]
        codes[20], codes[21] = np.arange(40) + 33, np.arange(40) + 73
        colours[18:] = 3 if bg != 3 else 0
    elif kind == "pattern":
        codes[:] = (np.arange(1000) % 256 if r.random() < 0.5 else np.arange(1000) % 96 + 32).reshape(25, 40)
        if r.random() < 0.5:
            colours[:] = (np.arange(25) % 16)[:, None]
            colours[colours == bg] = 3 if bg != 3 else 0
    elif kind == "fill":
        fill = int(r.choice([0x00, 0xFF, 0x55, 0xAA, int(r.integers(256))]))
        codes[:] = fill
    screen, colour = np.zeros(2048, np.uint8), np.zeros(2048, np.uint8)
    screen[:1000], colour[:1000] = codes.ravel(), colours.ravel()
    if r.random() < 0.5:
        screen[1000:], colour[1000:] = r.integers(0, 256, 1048), r.integers(0, 16, 1048)
    return {"mem": screen, "colour": colour, "bg": bg, "border": border, "fill": fill}
