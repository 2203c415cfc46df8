"""8 x 8 fonts drawn by rule from one table of strokes, and block graphics.

A stroke is a chain of points 'xy', x 0..4 from the left, y 0..6 from the top of a capital to the line, 7 and 8 below it.
"""
import numpy as np

STROKES = {
    "A": "06 02 11 20 31 42 46;04 44", "B": "00 06 36 45 44 33 03;00 30 41 42 33", "C": "41 30 10 01 05 16 36 45",
    "D": "00 06 26 44 42 20 00", "E": "40 00 06 46;03 33", "F": "40 00 06;03 33", "G": "41 30 10 01 05 16 36 45 43 23",
    "H": "00 06;40 46;03 43", "I": "10 30;20 26;16 36", "J": "20 40;30 35 26 16 05", "K": "00 06;40 03 46", "L": "00 06 46",
    "M": "06 00 22 40 46;22 23", "N": "06 00;01 45;46 40", "O": "10 30 41 45 36 16 05 01 10", "P": "06 00 30 41 42 33 03",
    "Q": "10 30 41 44 35 26 16 05 01 10;24 46", "R": "06 00 30 41 42 33 03;23 46", "S": "41 30 10 01 02 13 33 44 45 36 16 05",
    "T": "00 40;20 26", "U": "00 05 16 36 45 40", "V": "00 03 26 43 40", "W": "00 06 24 46 40;23 24", "X": "00 01 45 46;40 41 05 06",
    "Y": "00 01 23 41 40;23 26", "Z": "00 40 41 05 06 46",
    "a": "12 32 43 46 16 05 14 44", "b": "00 06 36 45 43 32 02", "c": "43 32 12 03 05 16 36 45", "d": "40 46 16 05 03 12 42",
    "e": "46 16 05 03 12 32 43 44 04", "f": "30 20 11 16;02 32", "g": "46 16 05 03 12 42 47 38 08", "h": "00 06;03 12 32 43 46",
    "i": "20 20;12 22 26;16 36", "j": "30 30;22 32 37 28 08", "k": "00 06;42 04 46", "l": "10 20 26;16 36", "m": "06 02 42 46;22 26",
    "n": "06 02;03 12 32 43 46", "o": "12 32 43 45 36 16 05 03 12", "p": "08 02 32 43 45 36 06", "q": "48 42 12 03 05 16 46",
    "r": "06 02;04 22 32 43", "s": "42 12 03 14 34 45 36 06", "t": "10 15 26 36 45;02 32", "u": "02 05 16 36 42;42 46",
    "v": "02 03 26 43 42", "w": "02 05 16 25 36 45 42;23 25", "x": "02 46;42 06", "y": "02 05 16 46;42 47 38 08", "z": "02 42 06 46",
    "0": "10 30 41 45 36 16 05 01 10;23 23", "1": "11 20 26;16 36", "2": "01 10 30 41 42 06 46", "3": "00 40 23 33 44 45 36 16 05",
    "4": "36 30 04 44", "5": "40 00 02 32 43 45 36 06", "6": "30 10 01 05 16 36 45 44 33 03", "7": "00 40 41 14 16",
    "8": "10 30 41 42 33 13 02 01 10;13 04 05 16 36 45 44 33", "9": "16 36 45 41 30 10 01 02 13 43",
    " ": "", "!": "20 24;26 26", '"': "10 11;30 31", "#": "10 16;30 36;02 42;04 44", "$": "41 11 02 13 33 44 35 05;20 26",
    "%": "00 00;40 06;46 46", "&": "46 11 20 31 04 05 16 26 44", "'": "20 22", "(": "30 21 25 36", ")": "10 21 25 16",
    "*": "01 45;41 05;03 43", "+": "21 25;03 43", ",": "25 26 17", "-": "03 43", ".": "26 26", "/": "41 05", ":": "22 22;25 25",
    ";": "22 22;25 26 17", "<": "30 03 36", "=": "02 42;04 44", ">": "10 43 16", "?": "01 10 30 41 42 23 24;26 26",
    "@": "44 23 13 15 35 41 30 10 01 05 16 46", "[": "30 10 16 36", "\\": "01 45", "]": "10 30 36 16", "^": "02 20 42", "_": "07 47",
    "`": "10 21", "{": "30 20 22 13 24 26 36", "|": "20 26", "}": "10 20 22 33 24 26 16", "~": "02 11 22 31",
}

# Width and height of a capital, weight of upright strokes, left edge, shear, corners cut, serifs on uprights.
STYLES = (
    dict(w=5, h=7, bold=0, left=1, shear=0, foot=0, wide=0), dict(w=6, h=7, bold=1, left=1, shear=0, foot=0, wide=0),
    dict(w=6, h=7, bold=0, left=1, shear=0, foot=0, wide=1), dict(w=6, h=6, bold=1, left=0, shear=0, foot=0, wide=0),
    dict(w=7, h=7, bold=0, left=0, shear=0, foot=0, wide=1), dict(w=5, h=7, bold=0, left=0, shear=1, foot=0, wide=0),
    dict(w=6, h=6, bold=1, left=1, shear=0, foot=1, wide=0),
)


def line(a, b):
    """Pixels of a straight stroke from a to b."""
    n = max(abs(b[0] - a[0]), abs(b[1] - a[1]), 1)
    return {(round(a[0] + (b[0] - a[0]) * i / n), round(a[1] + (b[1] - a[1]) * i / n)) for i in range(n + 1)}


def glyph(char, s):
    out = np.zeros((8, 8), np.uint8)
    top = 7 - s["h"] if s["h"] < 7 else 0
    for chain in STROKES[char].split(";"):
        points = []
        for p in chain.split():
            x, y = int(p[0]), int(p[1])
            px = round(x * (s["w"] - 1) / 4)
            py = top + round(y * (s["h"] - 1) / 6) if y <= 6 else 7
            points.append((px, py))
        pixels = set()
        for a, b in zip(points, points[1:]):
            pixels |= line(a, b)
        for x, y in pixels:
            x += s["left"] + (s["shear"] and (6 - y) // 3)
            for dx in range(1 + s["bold"]):
                if x + dx < 8:
                    out[y, x + dx] = 1
            if s["foot"] and y == 6 and x + 2 < 8 and char.isalpha():
                out[y, min(7, x + 1 + s["bold"])] = 1
    return out


def graphics(k):
    """Codes 0..31: the sixteen patterns of four quarters, then rules, wedges, shades and tokens."""
    g = np.zeros((8, 8), np.uint8)
    y, x = np.mgrid[0:8, 0:8]
    if k < 16:
        for q in range(4):
            if k >> q & 1:
                g[4 * (q // 2):4 * (q // 2) + 4, 4 * (q % 2):4 * (q % 2) + 4] = 1
        return g
    rule = [x == 3, y == 3, (x == 3) | (y == 3), x == y, x + y == 7, (x == y) | (x + y == 7), x <= y, x + y <= 7, x >= y, x + y >= 7,
            (x + y) % 2 == 0, (x % 2 == 0) & (y % 2 == 0), (x - 3.5) ** 2 + (y - 3.5) ** 2 < 12, abs(x - 3.5) + abs(y - 3.5) < 4.5,
            (abs(x - 3.5) > 3) | (abs(y - 3.5) > 3), (y % 4 == 3) | ((x + 4 * (y // 4)) % 8 == 7)]
    return (g | rule[k - 16]).astype(np.uint8)


def table(style, order="ascii", inverse=True):
    """256 glyphs of 8 bytes in code order, and the code of each character.

    'ascii' has graphics at 0..31; 'letters' has them at 96..127 and letters first. The upper half is inverse, or more graphics.
    """
    s = STYLES[style]
    bits = np.zeros((256, 8, 8), np.uint8)
    for c in STROKES:
        bits[ord(c)] = glyph(c, s)
    for k in range(32):
        bits[k] = graphics(k)
    bits[127] = graphics(15)
    codes = np.arange(128)
    if order == "letters":  # 64..95, 32..63, 96..127, 0..31
        codes = np.concatenate([np.arange(64, 96), np.arange(32, 64), np.arange(96, 128), np.arange(32)])
    bits[:128] = bits[codes]
    if inverse:
        bits[128:] = 1 - bits[:128]
    else:  # underlined, as a second set
        bits[128:] = bits[:128]
        bits[128:, 7] ^= 1
    where = np.zeros(128, int)
    where[codes] = np.arange(128)
    return np.packbits(bits, axis=2)[:, :, 0], where
