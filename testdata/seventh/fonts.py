"""8 x 8 fonts drawn for this folder: one table of 5 x 7 letters, changed in several ways, block graphics, and orders of codes."""
import numpy as np

# Seven rows of five pixels for each of the codes 0x20 to 0x7E, a row a digit of base 32, the leftmost pixel the highest bit.
TABLE = """
0000000 4444404 aa00000 aavavaa 4fke5u4 op248j3 cik8lid 4480000 2488842 8422248 04lel40 044v440 0000c48 000v000 00000cc 01248g0
ehjlphe 4c4444e eh1248v v2421he 26aiv22 vgu11he 68guhhe v124888 ehhehhe ehhf12c 0cc0cc0 0cc0c48 248g842 00v0v00 8421248 eh12404
ehnlnge ehhvhhh uhhuhhu ehggghe sihhhis vgguggv vgguggg ehgnhhf hhhvhhh e44444e 72222ic hikokih ggggggv hrllhhh hhpljhh ehhhhhe
uhhuggg ehhhlid uhhukih fgge11u v444444 hhhhhhe hhhhha4 hhhllla hha4ahh hhha444 v1248gv e88888e 0g84210 e22222e 4ah0000 000000v
8420000 00e1fhf ggmphhu 00egghe 11djhhf 00ehvge 698s888 0fhhf1e ggmphhh 40c444e 20622ic ggikoki c44444e 00qllhh 00mphhh 00ehhhe
00uhugg 00djf11 00mpggg 00ege1u 88s8896 00hhhjd 00hhha4 00hhlla 00ha4ah 00hhf1e 00v248v 2448442 4444444 8442448 008l200
""".split()
STYLES = ("plain", "bold", "wide", "slanted", "tall", "low", "dotted", "outline", "serif")


def letters():
    """95 glyphs of 8 x 8 booleans, five wide from column 1, seven high from row 0."""
    out = np.zeros((95, 8, 8), bool)
    for i, word in enumerate(TABLE):
        for r, digit in enumerate(word):
            for x in range(5):
                out[i, r, 1 + x] = int(digit, 32) >> (4 - x) & 1
    return out


def styled(style):
    g = letters()
    if style == "bold":
        g = g | np.roll(g, 1, 2)
    elif style == "wide":  # the middle columns twice
        g = g[:, :, [0, 1, 2, 2, 3, 4, 4, 5]]
    elif style == "slanted":
        g = np.stack([np.roll(g[:, r], (6 - r) // 3, 1) for r in range(8)], 1)
    elif style == "tall":  # the fourth row twice
        g = g[:, [0, 1, 2, 3, 3, 4, 5, 6]]
    elif style == "low":
        g = np.roll(np.roll(g, 1, 1), 1, 2)
    elif style == "dotted":  # thick letters with every second pixel of a board taken out of their right half
        thick = g | np.roll(g, 1, 2)
        board = np.indices((8, 8)).sum(0) % 2 == 0
        g = g | thick & board
    elif style == "outline":  # letters as holes in a bar, an odd one
        bar = np.zeros((8, 8), bool)
        bar[0:8, 0:7] = True
        g = np.where(g.any((1, 2))[:, None, None], bar & ~np.roll(g, 0, 1), g)
    elif style == "serif":  # a foot to the left under each stem that reaches the lowest row
        g = g.copy()
        foot = g[:, 6, 1:7]
        g[:, 6, 0:6] |= foot
    return g


def packed(g):
    return np.packbits(g, -1)[..., 0]


def graphics(rng):
    """128 block and line graphics: quarters, bars, lines, boards, and figures with a left-right mirror."""
    out = np.zeros((128, 8, 8), bool)
    for i in range(16):
        for q in range(4):
            if i >> q & 1:
                out[i, 4 * (q >> 1):4 * (q >> 1) + 4, 4 * (q & 1):4 * (q & 1) + 4] = True
    for i in range(8):
        out[16 + i, 7 - i:] = True
        out[24 + i, :, :i + 1] = True
    for i in range(16):  # lines from the middle
        g = out[32 + i]
        g[0:4, 3] |= bool(i & 1)
        g[3:8, 3] |= bool(i & 2)
        g[3, 0:4] |= bool(i & 4)
        g[3, 3:8] |= bool(i & 8)
    yx = np.indices((8, 8))
    for i in range(16):
        out[48 + i] = (yx[0] * (1 + i % 4) + yx[1] * (1 + i // 4)) % (2 + i % 5) == 0
    for i in range(64, 128):
        half = rng.random((8, 4)) < .55
        out[i] = np.concatenate([half, half[:, ::-1]], 1)
    return out


ORDERS = ("ascii", "letters-first", "shifted", "inverse")


def generator(rng, style, order):
    """256 glyphs x 8 bytes in the order of codes, the code of each ASCII character, and how many glyphs the file gives."""
    g, more = styled(style), graphics(np.random.default_rng(rng.integers(1 << 30)))
    table = np.zeros((256, 8, 8), bool)
    code = {}
    free = list(range(128))
    if order == "ascii":
        place = {c: c for c in range(0x20, 0x7F)}
    elif order == "letters-first":  # @ and capitals at 0, figures at 0x20, small letters at 0x40
        place = {c: (c - 0x40 if 0x40 <= c < 0x60 else c if c < 0x40 else c - 0x20) for c in range(0x20, 0x7F)}
    elif order == "shifted":  # space at 0, as ASCII less 0x20
        place = {c: c - 0x20 for c in range(0x20, 0x7F)}
    else:
        place = {c: c for c in range(0x20, 0x7F)}
    used = set(place.values())
    at = iter([i for i in free if i not in used] + list(range(128, 256)))
    for c, p in place.items():
        table[p] = g[c - 0x20]
        code[chr(c)] = p
    blocks = []
    for i, p in enumerate(at):
        if i < 128:
            table[p] = more[i]
            blocks.append(p)
        else:
            table[p] = ~more[i - 128]
    count = 256
    if order == "inverse":  # bit 7 shows the same glyph inverted
        table[128:] = ~table[:128]
        blocks = [b for b in blocks if b < 128] + [0x80 + code[" "]]
        count = 128
    return packed(table), code, blocks, count
