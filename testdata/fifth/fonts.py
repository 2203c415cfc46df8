"""8 x 8 glyphs drawn from a table of strokes on a 5 x 7 net, by seven rules of drawing; and block graphics."""
import numpy as np

# A word is a chain of points, each x then y, y downwards from 0; descenders reach y = 7.
TABLE = r"""
! 2024 2626
" 1011 3031
# 1016 3036 0242 0444
$ 413101120333440515 2026
% 0011 0640 3546
& 4613120121312304051646 4446
' 2021
( 30121436
) 10323416
* 0343 2125 1135 3115
+ 0343 2125
, 2526 2617
- 0343
. 2526
/ 0640
0 100105163645413010 1432
1 112026 1636
2 01103041420646
3 0040233344453616 1605
4 36300444
5 400003334445361605
6 301001051636454434330304
7 00404224 2426
8 100102133344453616050413 3342413010
9 163645413010010213334342
: 2122 2526
; 2122 2526 2617
< 400346
= 0242 0444
> 004306
? 011030414223 2323 2626
@ 34231424344440300105163646
A 06022042 4246 0444
B 0006 0030414233 0333 33444536 0636
C 41301001051636 3645
D 0006 0020424426 2606
E 40000646 0333
F 400006 0333
G 4130100105163645 4543 4323
H 0006 4046 0343
I 1030 2026 1636
J 4045 45361605
K 0006 4003 0346
L 000646
M 0600 0022 2240 4046
N 0600 0145 4046
O 100105163645413010
P 0600 0030414233 3303
Q 100105163645413010 2446
R 0600 0030414233 3303 2346
S 41301001021333444536160 5
T 0040 2026
U 00051636 364540
V 00042644 4440
W 0006 0624 2446 4640
X 0046 4006
Y 0023 4023 2326
Z 00400646
[ 30101636
\ 0046
] 10303616
^ 022042
_ 0747
` 1021
a 1232 3243 4346 4616 1605 0514 1444
b 0006 0636 36454332 3212 1203
c 43321203051636 3645
d 4046 4616 1605 0503 0312 1242
e 0444 4443 43321203051636 3646
f 4030 3021 2126 0343
g 4212 1203 0304 0415 1545 4247 4717
h 0006 0332 3243 4346
i 2020 1222 2226 1636
j 3030 2232 3236 3627 2717
k 0006 4204 1336 3646
l 1020 2025 2536
m 0602 0212 1223 2326 2332 3243 4346
n 0602 0312 1232 3243 4346
o 120305163645433212
p 0207 0232 32434435 3505
q 4247 4212 12030415 1545
r 0206 0312 1232 3243
s 4212 1203 0334 3445 4536 3606
t 1015 1526 2636 0232
u 0205 0516 1636 3645 4246
v 0204 0426 2644 4442
w 0205 0516 1624 2436 3645 4542
x 0246 4206
y 0204 0415 1545 4246 4637 3717
z 0242 4206 0646
{ 3020 2022 2213 1324 2426 2636
| 2027
} 1020 2022 2233 3324 2426 2616
~ 0112 1223 2332 3241
""".replace("160 5", "1605")


def strokes():
    """A glyph's chains, each a list of points."""
    out = {}
    for line in TABLE.split("\n"):
        if line:
            chains = line[2:].split()
            out[line[0]] = [[(int(c[i]), int(c[i + 1])) for i in range(0, len(c), 2)] for c in chains]
    return out


STROKES = strokes()
# Name: x positions of the five columns, y positions of the eight rows, weight, feet, slant. Common practice of such machines.
RULES = {
    "thin": ([1, 2, 3, 4, 5], [0, 1, 2, 3, 4, 5, 6, 7], "", False, False),
    "bold": ([1, 2, 3, 4, 5], [0, 1, 2, 3, 4, 5, 6, 7], "all", False, False),
    "feet": ([1, 2, 3, 5, 6], [0, 1, 2, 3, 4, 5, 6, 7], "", True, False),
    "wide": ([0, 1, 3, 5, 6], [0, 1, 2, 3, 4, 5, 6, 7], "", False, False),
    "stem": ([1, 2, 3, 4, 5], [0, 1, 2, 3, 4, 5, 6, 7], "stem", False, False),
    "low": ([1, 2, 3, 4, 5], [1, 2, 3, 4, 5, 5, 6, 7], "", False, False),
    "slant": ([1, 2, 3, 4, 5], [0, 1, 2, 3, 4, 5, 6, 7], "stem", False, True),
    "broad": ([0, 1, 3, 4, 5], [0, 1, 2, 3, 4, 5, 6, 7], "all", False, False),
}


def segment(g, a, b):
    """Sets the pixels between two points, both ends."""
    n = max(abs(b[0] - a[0]), abs(b[1] - a[1]), 1)
    for i in range(n + 1):
        g[int(round(a[1] + (b[1] - a[1]) * i / n)), int(np.floor(a[0] + (b[0] - a[0]) * i / n + 0.5))] = True


def glyph(char, rule):
    xs, ys, weight, feet, slant = RULES[rule]
    g = np.zeros((8, 8), bool)
    stems = np.zeros((8, 8), bool)
    for chain in STROKES.get(char, []):
        points = [(xs[x], ys[y]) for x, y in chain]
        for a, b in zip(points, points[1:]):
            segment(g, a, b)
            if a[0] == b[0] and a != b:
                segment(stems, a, b)
                if feet:  # a bar where a stem ends on the line of capitals or on the base
                    for x, y in (a, b):
                        if y in (ys[0], ys[6]) and char.isalpha():
                            g[y, max(x - 1, 0):x + 2] = True
    if weight:
        heavy = g if weight == "all" else stems
        g |= np.roll(heavy, 1, 1) & (np.arange(8) > 0)
    if slant:
        g[:3] = np.roll(g[:3], 1, 1)
    return g


def block(i):
    """Graphics: quarters, bars, lines of boxes, diagonals and shades by number."""
    g = np.zeros((8, 8), bool)
    y, x = np.mgrid[:8, :8]
    i %= 64
    if i < 16:  # quarters
        for k, (r, c) in enumerate(((0, 0), (0, 4), (4, 0), (4, 4))):
            g[r:r + 4, c:c + 4] |= bool(i >> k & 1)
    elif i < 32:  # lines of boxes: up, down, left, right
        k = i - 16
        g[:5, 3:5] |= bool(k & 1)
        g[3:, 3:5] |= bool(k & 2)
        g[3:5, :5] |= bool(k & 4)
        g[3:5, 3:] |= bool(k & 8)
    elif i < 40:
        g = y >= 39 - i
    elif i < 48:
        g = x <= i - 40
    else:
        g = [y == x, y + x == 7, y > x, y + x > 7, (x + y) % 2 == 0, (x + y) % 4 == 0, (x % 2 == 0) & (y % 2 == 0), y % 2 == 0, x % 2 == 0,
             (x - 3.5) ** 2 + (y - 3.5) ** 2 < 10, abs(x - 3.5) + abs(y - 3.5) < 4, (x ^ y) & 2 > 0, (x & y) > 1, y % 4 < 2,
             (x - 3.5) ** 2 + (y - 3.5) ** 2 > 12, x % 4 < 2][i - 48]
    return g


# The graphics below code 32; inverse gives the rest of the quarters.
LOW = [1, 2, 3, 4, 5, 6, 7, 0, 19, 28, 21, 22, 25, 26, 23, 27, 29, 30, 31, 48, 49, 50, 51, 52, 53, 54, 57, 58, 35, 37, 43, 45]


def low_code(i):
    """The code below 32, or its inverse, that is nearest to graphic i."""
    if i in LOW:
        return LOW.index(i)
    return LOW.index(15 - i) | 128 if i < 16 else LOW.index(LOW[i % 32])


def generator(rule, sort):
    """A table of 256 glyphs, rows of bytes, bit 7 left. Sort: 'inverse' (bit 7 inverts) or 'graphics' (bit 7 has graphics)."""
    table = np.zeros((256, 8), np.uint8)
    for code in range(128):
        g = glyph(chr(code), rule) if 32 <= code < 127 else block(LOW[code] if code < 32 else 52)
        table[code] = np.packbits(g, axis=1)[:, 0]
    for code in range(128, 256):
        table[code] = ~table[code - 128] if sort == "inverse" else np.packbits(block(code - 128 if code < 192 else code - 155), axis=1)[:, 0]
    return table


def font_file(table, sort):
    """The table as `--font` takes it: 128 glyphs where bit 7 inverts, else 256."""
    return (table[:128] if sort == "inverse" else table).tobytes()
