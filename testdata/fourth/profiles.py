"""The four displays, as the project's own profile files give them, with what each colour index stands for."""
import math
import os
import tomllib

import numpy as np

FOLDER = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..", "video", "display", "profiles")
NAMES = ("attr-256x192-50", "attr-256x192-60", "text-40x25-50", "text-40x25-60")


class Display:
    """Timing, picture and colours of one display; colours are rows of luma, U, V as parts of white less black."""

    def __init__(self, name):
        with open(os.path.join(FOLDER, name + ".toml"), "rb") as f:
            p = tomllib.load(f)
        self.name, self.attr = name, p["kind"] == "attr"
        self.pal = p["standard"] == "625/50"
        self.clock, self.pixels, self.lines = p["pixel_clock_hz"], p["line_pixels"], p["field_lines"]
        self.width, self.height = p["width"], p["height"]
        self.left, self.right, self.top, self.bottom = (p["border_" + s] for s in ("left", "right", "top", "bottom"))
        self.seen = (self.top + self.height + self.bottom, self.left + self.width + self.right)
        self.line_s = self.pixels / self.clock
        self.field_s = self.line_s * self.lines
        self.samples = 864 if self.pal else 858  # BT.601 samples of a whole line
        self.active = 288 if self.pal else 240  # lines of a field that a device keeps
        self.pitch = self.samples / self.pixels
        if self.attr:
            self.lut = np.array([_rgb(i, p["normal_level"]) for i in range(16)], np.float32)
            self.colour_names = "black blue red magenta green cyan yellow white".split()
        else:
            self.lut = np.array([(c["luma"], c["chroma"] * math.cos(math.radians(c["angle"])),
                                  c["chroma"] * math.sin(math.radians(c["angle"]))) for c in p["colours"]], np.float32)
            self.colour_names = [c["name"] for c in p["colours"]]


def _rgb(index, normal):
    """Luma, U, V (BT.1700's weights) of an index: bit 3 bright, bit 2 green, bit 1 red, bit 0 blue."""
    level = 1.0 if index & 8 else normal
    r, g, b = (level * (index >> k & 1) for k in (1, 2, 0))
    y = 0.299 * r + 0.587 * g + 0.114 * b
    return y, 0.493 * (b - y), 0.877 * (r - y)


def bitmap_address(y, c):
    """Where the byte of picture line y, cell column c stands: y7 y6 y2 y1 y0 y5 y4 y3 c4 c3 c2 c1 c0."""
    return (y >> 6) << 11 | (y & 7) << 8 | (y >> 3 & 7) << 5 | c


def colour_address(y, c):
    """Where the colour byte of picture line y, cell column c stands."""
    return 6144 + 32 * (y >> 3) + c
