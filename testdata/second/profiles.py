"""The four display profiles, as design.md section 3 gives them, and their colours.

Palette entries 0..15 are the machine's colours; BLANK, SYNC and BURST are what a
raster carries outside the picture. A colour is (luma of white, U, V of white)."""
from math import cos, sin, radians

import numpy as np

BLANK, SYNC, BURST = 16, 17, 18
FSC_PAL, FSC_NTSC = 4433618.75, 5e6 * 63 / 88


class Profile:
    def __init__(self, name, kind, pal, clock, n, lines, w, h, bx, by):
        self.name, self.kind, self.pal = name, kind, pal
        self.clock, self.n, self.lines = clock, n, lines
        self.w, self.h, self.bx, self.by = w, h, bx, by
        self.cols, self.rows = w // 8, h // 8
        self.text = kind == "text"
        self.line_samples = 864 if pal else 858      # BT.601
        self.cap_lines = 288 if pal else 240         # lines of a recorded field
        self.line_rate = clock / n
        # Sync, burst and picture in pixel clocks after 0H (BT.1700, SMPTE 170M).
        self.sync_w = round(4.7e-6 * clock)
        b0, bl = (5.6e-6, 2.25e-6) if pal else (5.31e-6, 2.51e-6)
        self.burst = (round(b0 * clock), round((b0 + bl) * clock))
        centre = 36.5e-6 if pal else 35.6e-6
        self.left = round(centre * clock) - (w + 2 * bx) // 2
        seen = h + 2 * by
        self.top = (22 if pal else 19) + (self.cap_lines - seen) // 2

    def fsc(self):
        """Subcarrier: its own crystal beside a bitmap display, the dot clock's on a text one."""
        if self.text:
            return self.clock * (9 / 16 if self.pal else 7 / 16)
        return FSC_PAL if self.pal else FSC_NTSC


PROFILES = {p.name: p for p in (
    Profile("attr-256x192-50", "attr", True, 7000000, 448, 312, 256, 192, 48, 48),
    Profile("attr-256x192-60", "attr", False, 7056000, 448, 262, 256, 192, 48, 24),
    Profile("text-40x25-50", "text", True, 7881988, 504, 312, 320, 200, 42, 42),
    Profile("text-40x25-60", "text", False, 8181817, 520, 263, 320, 200, 42, 20),
)}

# Angles on the U-V plane: red, yellow, green, cyan, blue, magenta.
ANGLES = (103.48, 167.11, 240.66, 283.48, 347.11, 60.66)


def rgb_yuv(r, g, b):
    y = .299 * r + .587 * g + .114 * b
    return y, .493 * (b - y), .877 * (r - y)


def attr_rgb():
    """16 x 3: index bit 3 bright, bit 2 green, bit 1 red, bit 0 blue."""
    t = np.zeros((16, 3))
    for i in range(16):
        lv = 1.0 if i & 8 else 0.85
        t[i] = [lv * (i >> 1 & 1), lv * (i >> 2 & 1), lv * (i & 1)]
    return t


def text_yuv():
    t = [(0, 0, 0), (.33, 0, 0), (.66, 0, 0), (1, 0, 0)]
    for luma in (.35, .70):
        t += [(luma, .2 * cos(radians(a)), .2 * sin(radians(a))) for a in ANGLES]
    return np.array(t)


def palette(profile, paths=()):
    """16 x 3 Y, U, V; paths are colour-path faults (component, level)."""
    if profile.text:
        t = text_yuv()
        for comp, level in paths:
            t[:, {"luma": 0, "cb": 1, "cr": 2}[comp]] = {
                ("luma", 0): 0, ("luma", 1): 1}.get((comp, level), .2 * level)
        return t
    rgb = attr_rgb()
    for comp, level in paths:
        k = {"red": 0, "green": 1, "blue": 2}[comp]
        # A stuck driver stands at the level of full brightness or of black.
        rgb[:, k] = float(level)
    return np.array([rgb_yuv(*c) for c in rgb])


