"""Three character generators, each drawn on its own principle: dots, segments, strokes.

Codes 0x20..0x7E are ASCII; 0..31 are graphic blocks. 128 or 256 glyphs of 8 bytes, leftmost pixel in bit 7.
"""
import numpy as np

# dot matrix: seven rows of five dots, two hexadecimal figures a row
DOTS = """
 00000000000000|!04040404040004|"0A0A0A00000000|#0A0A1F0A1F0A0A|$040F140E051E04|%18190204081303|&0C12140815120D|'0C040800000000
(02040808080402|)08040202020408|*0004150E150400|+0004041F040400|,000000000C0408|-0000001F000000|.00000000000C0C|/00010204081000
00E11131519110E|1040C040404040E|20E11010204081F|31F02040201110E|402060A121F0202|51F101E0101110E|60608101E11110E|71F010204080808
80E11110E11110E|90E11110F01020C|:000C0C000C0C00|;000C0C000C0408|<02040810080402|=00001F001F0000|>08040201020408|?0E110102040004
@0E11010D15150E|A0E1111111F1111|B1E11111E11111E|C0E11101010110E|D1C12111111121C|E1F10101E10101F|F1F10101E101010|G0E11101711110F
H1111111F111111|I0E04040404040E|J0702020202120C|K11121418141211|L1010101010101F|M111B1515111111|N11111915131111|O0E11111111110E
P1E11111E101010|Q0E11111115120D|R1E11111E141211|S0F10100E01011E|T1F040404040404|U1111111111110E|V11111111110A04|W1111111515150A
X11110A040A1111|Y1111110A040404|Z1F01020408101F|[0E08080808080E|\\00100804020100|]0E02020202020E|^040A1100000000|_0000000000001F
`08040200000000|a00000E010F110F|b10101619111 11E|c00000E1010110E|d01010D1311110F|e00000E111F100E|f0609081C080808|g000F11110F010E
h10101619111111|i04000C0404040E|j0200060202120C|k10101214181412|l0C04040404040E|m00001A15151111|n00001619111111|o00000E1111110E
p00001E111E1010|q00000D130F0101|r00001619101010|s00000E100E011E|t08081C0808 0906|u0000111111130D|v00001111110A04|w0000111115150A
x0000110A040A11|y000011110F010E|z00001F0204081F|{02040408040402|;000C0C000C0408|}08040402040408|~00000815020000"""

# segments: a top bar, b c right, d bottom, e f left, g h middle halves, i j upper diagonals, k l lower ones, m n centre posts
SEGMENTS = {
    "A": "abcefgh", "B": "abcdhmn", "C": "adef", "D": "abcdmn", "E": "adefgh", "F": "aefg", "G": "acdefh", "H": "bcefgh", "I": "admn",
    "J": "bcde", "K": "efgjl", "L": "def", "M": "bcefij", "N": "bcefil", "O": "abcdef", "P": "abefgh", "Q": "abcdefl", "R": "abefghl",
    "S": "acdfgh", "T": "amn", "U": "bcdef", "V": "efjk", "W": "bcefkl", "X": "ijkl", "Y": "ijn", "Z": "adjk", "0": "abcdefjk", "1": "bcj",
    "2": "abdegh", "3": "abcdh", "4": "bcfgh", "5": "acdfghl", "6": "acdefgh", "7": "ajn", "8": "abcdefgh", "9": "abcdfgh", "-": "gh",
    "+": "ghmn", "*": "ghijklmn", "/": "jk", "\\": "il", "=": "dgh", "<": "jl", ">": "ik", "_": "d", "(": "jl", ")": "ik", "[": "adef"[0:4],
    "]": "abcd", "|": "mn", "!": "m", "'": "m", '"': "fm", "?": "abhn", "@": "abdefhm", "#": "bcdghmn", "$": "acdfghmn", "%": "cfjk",
    "&": "adegil", "^": "kl", "`": "i", "~": "fgm", "{": "adghmn"[0:5], "}": "aghmn",
}

# strokes: polylines on a grid of 7 x 7, a pair of figures a point (across, down)
STROKES = {
    "A": "0630,3066,1454", "B": "0006,00405152434,0343545546,0646", "C": "6150201115265665", "D": "0006,0040616545,0646,6545", "E": "6000066606,0343",
    "F": "6000,0006,0343", "G": "615020010526566563,6333", "H": "0006,6066,0363", "I": "1050,3036,1656", "J": "2060,5055463615", "K": "0006,6003,0366",
    "L": "00060666", "M": "06003360,6066", "N": "06006660", "O": "2040616546260501,0120", "P": "0600405152430333,0343", "Q": "2040616546260501,0120,4466",
    "R": "060040515243,4303,3366", "S": "6150100112535456465615,1605", "T": "0060,3036", "U": "00051656,5665,6560", "V": "003660", "W": "0016335660",
    "X": "0066,6006", "Y": "003360,3336", "Z": "00600666", "a": "1252,5256,5616,1605,0514,1454", "b": "0006,0646,4655,5553,5342,4202",
    "c": "5212030516,1656", "d": "6066,6626,2615,1513,1322,2262", "e": "0454,5453,5342,4212,1203,0305,0516,1656", "f": "5040313136,1353",
    "g": "5212,1203,0304,0415,1555,5256,5647,4717", "h": "0006,0342,4253,5356", "i": "3030,3236", "j": "4040,4246,4637,3717", "k": "0006,5203,0356",
    "l": "2030,3036,2646", "m": "0206,0222,2233,3336,3342,4262,6266", "n": "0206,0342,4253,5356", "o": "1242,4253,5355,5546,4616,1605,0503,0312",
    "p": "0207,0242,4253,5354,5445,4505", "q": "5257,5212,1203,0304,0415,1555", "r": "0206,0422,2252", "s": "5212,1203,0314,1444,4455,5546,4606",
    "t": "2025,2536,3646,0242", "u": "0205,0516,1636,3654,5256", "v": "022652", "w": "0216345652", "x": "0256,5206", "y": "0225,5217", "z": "02520656",
    "0": "1050,5061,6165,6556,5616,1605,0501,0110,1551", "1": "1130,3036,1656", "2": "011050,5061,6162,6206,0666", "3": "0060,6033,3353,5364,6465,6556,5606",
    "4": "5056,5004,0464", "5": "6000,0003,0353,5364,6465,6556,5606", "6": "5020,2002,0205,0516,1656,5665,6564,6453,5303", "7": "0060,6026",
    "8": "1050,5061,6152,5213,1304,0405,0516,1656,5665,6564,6453,5312,1201,0110", "9": "6313,1302,0201,0110,1050,5061,6164,6446,4616",
    "!": "3034,3636", '"': "1012,4042", "#": "1016,5056,0262,0464", "$": "6111,1102,0213,1353,5364,6455,5505,3037", "%": "0606,6006,0011,5566",
    "&": "6603,0311,1120,2031,3122,2204,0415,1535,3563", "'": "3012", "(": "4022,2224,2446", ")": "2042,4244,4426", "*": "3135,1254,5214",
    "+": "3135,1353", ",": "3536,3627", "-": "1353", ".": "3536", "/": "6006", ":": "3132,3435", ";": "3132,3435,3527", "<": "5013,1356", "=": "1252,1454",
    ">": "1053,5316", "?": "0110,1050,5061,6133,3334,3636", "@": "5535,3533,3353,5356,6160,6020,2002,0204,0426,2666", "[": "4020,2026,2646",
    "\\": "0066", "]": "2040,4046,4626", "^": "1230,3052", "_": "0767", "`": "1032", "{": "4030,3032,3223,2334,3436,3646", "|": "3037",
    "}": "2030,3032,3243,4334,3436,3626", "~": "0211,1122,2233,3352,5261",
}


def line(glyph, x0, y0, x1, y1):
    n = max(abs(x1 - x0), abs(y1 - y0), 1)
    for k in range(n + 1):
        x, y = round(x0 + (x1 - x0) * k / n), round(y0 + (y1 - y0) * k / n)
        if 0 <= x < 8 and 0 <= y < 8:
            glyph[y, x] = 1


def dots():
    out = np.zeros((96, 8, 8), np.uint8)
    for item in DOTS.replace("\n", "|").split("|"):
        item = item.rstrip("\n")
        if len(item) < 15:
            continue
        code, rows = ord(item[0]) - 32, item[1:].replace(" ", "")
        for y in range(7):
            v = int(rows[2 * y:2 * y + 2], 16)
            for x in range(5):
                out[code, y, 1 + x] = v >> (4 - x) & 1
    out[ord("|") - 32] = 0
    out[ord("|") - 32, 0:7, 3] = 1
    return out


def segment_glyph(which, height):
    g = np.zeros((8, 8), np.uint8)
    top, bottom = 7 - height, 6
    middle = (top + bottom) // 2
    for s in which:
        if s == "a": g[top, 0:7] = 1
        elif s == "d": g[bottom, 0:7] = 1
        elif s == "b": g[top:middle + 1, 5:7] = 1
        elif s == "c": g[middle:bottom + 1, 5:7] = 1
        elif s == "e": g[middle:bottom + 1, 0:2] = 1
        elif s == "f": g[top:middle + 1, 0:2] = 1
        elif s == "g": g[middle, 0:4] = 1
        elif s == "h": g[middle, 3:7] = 1
        elif s == "i": line(g, 1, top, 3, middle), line(g, 2, top, 3, middle)
        elif s == "j": line(g, 6, top, 3, middle), line(g, 5, top, 3, middle)
        elif s == "k": line(g, 0, bottom, 3, middle), line(g, 1, bottom, 3, middle)
        elif s == "l": line(g, 5, bottom, 3, middle), line(g, 6, bottom, 3, middle)
        elif s == "m": g[top:middle + 1, 3:5] = 1
        elif s == "n": g[middle:bottom + 1, 3:5] = 1
    return g


def segments():
    out = np.zeros((96, 8, 8), np.uint8)
    for ch, which in SEGMENTS.items():
        out[ord(ch) - 32] = segment_glyph(which, 7)
    for k in range(26):
        g = segment_glyph(SEGMENTS[chr(65 + k)], 5)
        g[6] |= g[5] & 0  # small capitals stand on the same line
        out[65 + k] = g
    out[14 - 0, 5:7, 2:4] = 1  # full stop
    out[12, 5:7, 3:5] = 1
    out[12, 7, 2:4] = 1  # comma
    out[26, 1:3, 3:5] = 1
    out[26, 5:7, 3:5] = 1  # colon
    out[27, 1:3, 3:5] = 1
    out[27, 5:8, 3:5] = 1
    return out


def strokes(bold):
    out = np.zeros((96, 8, 8), np.uint8)
    for ch, path in STROKES.items():
        g = out[ord(ch) - 32]
        for part in path.split(","):
            pts = [(int(part[k]), int(part[k + 1])) for k in range(0, len(part) - 1, 2)]
            for (x0, y0), (x1, y1) in zip(pts, pts[1:] or pts[:1]):
                line(g, x0, y0, x1, y1)
        if bold:
            g[:, 1:] |= g[:, :-1].copy()
    return out


def graphics(style):
    """32 blocks: quadrants, bars, slopes, a ball, a chequer."""
    out = np.zeros((32, 8, 8), np.uint8)
    yy, xx = np.mgrid[0:8, 0:8]
    for k in range(16):
        q = (xx >= 4) + 2 * (yy >= 4)
        out[k] = (k >> q) & 1
    shapes = [xx <= yy, xx >= yy, xx + yy >= 7, xx + yy <= 7, (xx - 3.5) ** 2 + (yy - 3.5) ** 2 < 13, (xx + yy) % 2 == 0, yy % 2 == 0, xx % 2 == 0,
              (xx == 3) | (yy == 3), (xx == 0) | (yy == 0) | (xx == 7) | (yy == 7), yy >= 6, yy < 2, xx < 2, xx >= 6, abs(xx - 3.5) + abs(yy - 3.5) < 4,
              (xx // 2 + yy // 2) % 2 == 0]
    if style:
        shapes = shapes[5:] + shapes[:5]
    for k, s in enumerate(shapes):
        out[16 + k] = s
    return out


def make(style, size):
    """A generator as (size, 8) bytes; style 0 dots, 1 segments, 2 strokes, 3 strokes drawn bold."""
    letters = [dots, segments, lambda: strokes(False), lambda: strokes(True)][style]()
    letters[95] = 1
    g = np.concatenate([graphics(style % 2), letters])
    if size == 256:
        if style in (0, 3):
            upper = 1 - g
        else:  # mosaics of two by four, the last cell open
            k = np.arange(128)[:, None, None]
            yy, xx = np.mgrid[0:8, 0:8]
            upper = (k >> ((yy // 2) * 2 + (xx // 4)) & 1).astype(np.uint8)
        g = np.concatenate([g, upper])
    return np.packbits(g.astype(np.uint8), axis=2)[:, :, 0]
