"""Four fonts of different weight, drawn here: strokes on a 5 x 7 grid, fine, heavy and wide, and
the bitmap font that Pillow carries. 128 glyphs of 8 bytes, codes
0x20..0x7E in ASCII order, block graphics below; 128..255 are the same inverted."""
import numpy as np
from PIL import Image, ImageDraw, ImageFont

# Polylines on x 0..4, y 0..6: points "xy", strokes parted by a blank.
STROKES = {
    'A': "06022042 4246 0444", 'B': "0600304132330343 334445360605", 'C': "4130100105163645",
    'D': "0600304145360606", 'E': "40000646 0333", 'F': "400006 0333", 'G': "41301001051636454323",
    'H': "0006 4046 0343", 'I': "1030 2026 1636", 'J': "2040 3035261605", 'K': "0006 4003 0346",
    'L': "000646", 'M': "0600234046", 'N': "06004640", 'O': "100105163645413010",
    'P': "06003041423303", 'Q': "100105163645413010 2446", 'R': "06003041423303 2346",
    'S': "413010010213334445361605", 'T': "0040 2026", 'U': "000516364540", 'V': "0003264340",
    'W': "0006244640", 'X': "0046 4006", 'Y': "002340 2326", 'Z': "00400646",
    '0': "100105163645413010 0541", '1': "112026 1636", '2': "01103041420646",
    '3': "004022334445361605", '4': "36300444", '5': "400002324345361605",
    '6': "3010010516364544330303", '7': "004016", '8': "10304142331302 0110 13040516364544 3344",
    '9': "4313020110304145361605", '!': "2024 2626", '"': "1011 3031", '#': "1016 3036 0242 0444",
    '$': "4110020434450616 2026", '%': "0011 4006 3546", '&': "4602011021110405163644", "'": "2021",
    '(': "30121436", ')': "10323416", '*': "2125 0145 4105", '+': "2125 0343", ',': "252616",
    '-': "0343", '.': "2626", '/': "4006", ':': "2222 2525", ';': "2222 252616", '<': "400346",
    '=': "0242 0444", '>': "003306", '?': "0110304132232424 2626", '@': "4323344241301001051646",
    '[': "30101636", '\\': "0046", ']': "10303616", '^': "022042", '_': "0646", '`': "1021",
    '{': "302013262636", '|': "2026", '}': "102033261626", '~': "03122433",
}


def stroke_glyph(spec, wide, small):
    im = Image.new("1", (8, 8))
    d = ImageDraw.Draw(im)
    for line in spec.split():
        pts = [(int(line[i]), int(line[i + 1])) for i in range(0, len(line) - 1, 2)]
        if small:                                  # lower case: the capital, less high
            pts = [(x, 2 + round(y * 4 / 6)) for x, y in pts]
        pts = [(x * 3 // 2 if wide else x + 1, y) for x, y in pts]
        d.line(pts if len(pts) > 1 else pts * 2, fill=1)
        d.point(pts, fill=1)
    return np.array(im, bool)


def pillow_glyph(ch):
    im = Image.new("1", (8, 12))
    ImageDraw.Draw(im).text((1, 0), ch, fill=1, font=ImageFont.load_default())
    a = np.array(im, bool)
    a[9] |= a[10]                                  # keep descenders
    return a[2:10]


def bolden(g):
    h = g.copy()
    h[:, 1:] |= g[:, :-1]
    return h


def block(i):
    """Graphics for codes below the blank: quarters, bars, chequers and rules."""
    g = np.zeros((8, 8), bool)
    if i < 16:
        g[:4, :4], g[:4, 4:], g[4:, :4], g[4:, 4:] = i & 1, i & 2, i & 4, i & 8
        g[7, :] = False                            # no two codes alike
        g[3, 3] = i == 0
    elif i < 24:
        g[7 - (i - 16):, :] = True
        g[:, 7] = False
    elif i < 28:
        g[:, ::2 + i - 24] = True
    else:
        g[i - 26, :] = True
        g[:, i - 26] = True
    return g


def font(which):
    """(name, 256 x 8 bytes)."""
    name = ("fine", "heavy", "plain", "wide")[which]
    rom = np.zeros((128, 8, 8), bool)
    for c in range(128):
        ch = chr(c)
        if c < 32:
            g = block(c)
        elif c == 127:
            g = np.indices((8, 8)).sum(0) % 2 == 0
        elif c == 32:
            g = np.zeros((8, 8), bool)
        elif which == 2:
            g = pillow_glyph(ch)
        else:
            g = stroke_glyph(STROKES[ch.upper()], which == 3, ch.islower())
        if which == 1 and c > 32 and c != 127:
            g = bolden(g)
        rom[c] = g
    rom = np.concatenate([rom, ~rom])
    return name, np.packbits(rom, axis=2)[:, :, 0]
