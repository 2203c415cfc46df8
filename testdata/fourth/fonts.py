"""Seven 8 x 8 fonts, all from one table of strokes by different pens.

A glyph is a list of lines through points on a grid of x 0..4, y 0..6 (7 below the base line); "0602" is a line from
(0, 6) to (0, 2). A pen says where the points fall and what is drawn there.
"""
import numpy as np

STROKES = {
    "A": "0602204246 0444", "B": "0006 003041423303 3344453606", "C": "4130100105163645", "D": "0006 003041453606",
    "E": "40000646 0333", "F": "400006 0333", "G": "41301001051636454323", "H": "0006 4046 0343", "I": "1030 2026 1636",
    "J": "2040 3035261605", "K": "0006 400346", "L": "000646", "M": "0600224046", "N": "06004640", "O": "103041453616050110",
    "P": "0006 003041423303", "Q": "103041453616050110 2446", "R": "0006 003041423303 2346", "S": "413010010213334445361605",
    "T": "0040 2026", "U": "000516364540", "V": "0003264340", "W": "0006244640", "X": "0046 4006", "Y": "002340 2326",
    "Z": "00400646", "0": "103041453616050110 1531", "1": "112026 1636", "2": "0110304142330646",
    "3": "011030414233 1333 3344453616 1605", "4": "36300444", "5": "400002324345361605", "6": "30100105163645443303",
    "7": "00404226", "8": "103041423313020110 133344453616050413", "9": "43130201103041453616", "a": "1232434616050444",
    "b": "0006 023243453606", "c": "421203051646", "d": "4046 421203051646", "e": "044443321203051646", "f": "40302126 1333",
    "g": "421203041545 4246371707", "h": "0006 02324346", "i": "20 122226 1636", "j": "30 32362717", "k": "0006 4204 1446",
    "l": "102026 1636", "m": "0602 02122326 22324346", "n": "0602 02324346", "o": "123243453616050312", "p": "0207 023243453606",
    "q": "4247 421203051646", "r": "0206 04223243", "s": "4212031434453606", "t": "1015263645 0232", "u": "020516364542 4546",
    "v": "022642", "w": "0206244642", "x": "0246 4206", "y": "02041545 4246371707", "z": "02420646", " ": "", "!": "2024 26",
    '"': "1012 3032", "#": "1016 3036 0242 0444", "$": "4111021333443505 2026", "%": "0011 0640 3546",
    "&": "4612112031220405162644", "'": "2022", "(": "30121436", ")": "10323416", "*": "2125 1135 3115 0343", "+": "2125 0343",
    ",": "252617", "-": "0343", ".": "26", "/": "0640", ":": "22 25", ";": "22 252617", "<": "300336", "=": "0242 0444",
    ">": "104316", "?": "01103041422324 26", "@": "453616050110304144242332", "[": "30101636", "\\": "0046", "]": "10303616",
    "^": "022042", "_": "0747", "`": "1021", "{": "30212213242536", "|": "2026", "}": "10212233242516", "~": "0211223241",
}
PENS = ("thin", "bold", "wide", "serif", "slant", "narrow", "contrast")


def _points(text):
    return [[(int(w[i]), int(w[i + 1])) for i in range(0, len(w), 2)] for w in text.split()]


def _place(pen, x, y):
    if pen in ("wide", "serif"):
        return (round(x * 1.5) + (0 if pen == "wide" else 1)), y
    if pen == "slant":
        return x + (7 - y) // 3, y
    if pen == "narrow":
        return round(x * 0.75) + 2, y
    return x + 1, y


def _line(cell, a, b, heavy):
    n = max(abs(a[0] - b[0]), abs(a[1] - b[1]), 1)
    for i in range(n + 1):
        x, y = round(a[0] + (b[0] - a[0]) * i / n), round(a[1] + (b[1] - a[1]) * i / n)
        cell[y, min(x, 7)] = 1
        if heavy:
            cell[y, min(x + 1, 7)] = 1


def glyph(char, pen):
    """8 bytes of a character by a pen."""
    cell = np.zeros((8, 8), np.uint8)
    if char in "m#" and pen in ("bold", "contrast"):  # the heavy pen would fill them
        pen = "wide"
    for points in _points(STROKES[char]):
        placed = [_place(pen, *p) for p in points]
        for a, b in zip(placed, placed[1:] or placed):
            upright = a[0] == b[0] and a[1] != b[1]
            _line(cell, a, b, pen == "bold" or pen == "contrast" and upright)
        if pen == "serif" and len(placed) > 1:  # feet where an upright ends
            for end, inner in ((0, 1), (-1, -2)):
                (x, y), (ix, iy) = placed[end], placed[inner]
                if x == ix and abs(y - iy) > 2 and not cell[y, max(x - 1, 0)] and not cell[y, min(x + 1, 7)]:
                    cell[y, max(x - 1, 0)] = cell[y, min(x + 1, 7)] = 1
    return np.packbits(cell, axis=1)[:, 0]


def _graphics(n):
    """A drawing glyph, 0..31: quadrants, lines with joins, bars, shades."""
    cell = np.zeros((8, 8), np.uint8)
    if n < 16:
        for q in range(4):
            if n >> q & 1:
                cell[4 * (q >> 1):4 * (q >> 1) + 4, 4 * (q & 1):4 * (q & 1) + 4] = 1
    elif n < 22:  # lines: bits up, down, left, right
        up, down, left, right = {16: (0, 0, 1, 1), 17: (1, 1, 0, 0), 18: (0, 1, 0, 1), 19: (0, 1, 1, 0),
                                 20: (1, 0, 0, 1), 21: (1, 0, 1, 0)}[n]
        cell[3, 3 - 3 * left:5 + 3 * right] = 1
        cell[3 - 3 * up:4 + 4 * down, 3:5] = 1
    elif n < 28:
        cell[8 - (n - 21):] = 1
    elif n == 28:
        cell[::2, ::2] = cell[1::2, 1::2] = 1
    elif n == 29:
        cell[::2, ::2] = 1
    elif n == 30:
        yy, xx = np.mgrid[:8, :8]
        cell[:] = (yy - 3.5) ** 2 + (xx - 3.5) ** 2 < 14
    else:
        yy, xx = np.mgrid[:8, :8]
        cell[:] = xx <= yy
    return np.packbits(cell, axis=1)[:, 0]


def generator(rng):
    """A character generator and its glyph count: 256 glyphs, or 128 shown inverted by bit 7; and the pen's name."""
    pen = PENS[rng.integers(len(PENS))]
    table = np.zeros((256, 8), np.uint8)
    for n in range(32):
        table[n] = _graphics(n)
    for c in range(32, 127):
        table[c] = glyph(chr(c), pen)
    table[127] = 0xFF
    if rng.random() < 0.4:
        table[128:] = ~table[:128]
        return table, 128, pen
    other = "bold" if pen != "bold" else "wide"
    for c in range(32, 127):
        table[128 + c] = glyph(chr(c), other)
    for n in range(32):
        table[128 + n] = ~_graphics(n)
    table[255] = 0x18
    return table, 256, pen
