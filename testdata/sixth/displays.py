"""The four displays, read from the project's own profile files."""
import os
import tomllib
from dataclasses import dataclass

import numpy as np

FOLDER = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..", "video", "display", "profiles")
NAMES = ("attr-256x192-50", "attr-256x192-60", "text-40x25-50", "text-40x25-60")
FSC = {"625/50": 4433618.75, "525/60": 315e6 / 88}  # BT.1700, SMPTE 170M


@dataclass
class Display:
    name: str
    attr: bool
    pal: bool
    clock: float      # Hz, of pixels
    period: int       # pixel periods a line
    lines: int        # a field
    w: int
    h: int
    left: int         # border seen, pixels and lines
    right: int
    top: int
    bottom: int
    table: np.ndarray  # Y, U, V of white = 1 for each colour number

    @property
    def cols(self):
        return self.w // 8

    @property
    def rows(self):
        return self.h // 8

    @property
    def line_hz(self):
        return self.clock / self.period

    @property
    def field_hz(self):
        return self.line_hz / self.lines

    @property
    def fsc(self):
        return FSC["625/50" if self.pal else "525/60"]


def rgb_yuv(r, g, b):
    """BT.470's luma and colour differences of R, G, B in 0..1."""
    y = 0.299 * r + 0.587 * g + 0.114 * b
    return y, 0.493 * (b - y), 0.877 * (r - y)


def colours(p):
    """Y, U, V of each colour number; on bitmap displays bit 3 is bright, then green, red, blue."""
    if p["kind"] == "attr":
        out = []
        for k in range(16):
            level = 1.0 if k & 8 else p["normal_level"]
            out.append(rgb_yuv(*(level * (k >> s & 1) for s in (1, 2, 0))))
        return np.array(out)
    turn = [(c["luma"], c["chroma"], np.radians(c["angle"])) for c in p["colours"]]
    return np.array([(y, a * np.cos(t), a * np.sin(t)) for y, a, t in turn])


def load(name):
    with open(os.path.join(FOLDER, name + ".toml"), "rb") as f:
        p = tomllib.load(f)
    return Display(name, p["kind"] == "attr", p["standard"] == "625/50", p["pixel_clock_hz"], p["line_pixels"], p["field_lines"],
                   p["width"], p["height"], p["border_left"], p["border_right"], p["border_top"], p["border_bottom"], colours(p))


def bitmap_address(y, c):
    """From bit 12 down: y7 y6 y2 y1 y0 y5 y4 y3 c4 c3 c2 c1 c0; eight bits of y, so that a counter may run past the picture."""
    return (y >> 6 & 3) << 11 | (y & 7) << 8 | (y >> 3 & 7) << 5 | c & 31


def colour_address(y, c):
    return 6144 + 32 * (y >> 3) + (c & 31)
