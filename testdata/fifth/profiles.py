"""The four displays, read from the project's profile files, and what each colour is in luma and colour difference."""
import os
import tomllib

import numpy as np

HERE = os.path.dirname(os.path.abspath(__file__))
FOLDER = os.path.join(HERE, "..", "..", "video", "display", "profiles")
NAMES = ["attr-256x192-50", "text-40x25-50", "attr-256x192-60", "text-40x25-60"]
# Subcarriers: ITU-R BT.1700 Part B (PAL), SMPTE 170M (NTSC).
FSC = {50: 4433618.75, 60: 5e6 * 63 / 88}


class Display:
    """A profile, with the figures that the rest asks for."""

    def __init__(self, name):
        with open(os.path.join(FOLDER, name + ".toml"), "rb") as f:
            t = tomllib.load(f)
        self.name, self.kind = name, t["kind"]
        self.hz = 50 if t["standard"].startswith("625") else 60
        self.clock, self.line_pixels, self.field_lines = t["pixel_clock_hz"], t["line_pixels"], t["field_lines"]
        self.width, self.height = t["width"], t["height"]
        self.left, self.right, self.top, self.bottom = (t["border_" + s] for s in ("left", "right", "top", "bottom"))
        self.seen_w, self.seen_h = self.left + self.width + self.right, self.top + self.height + self.bottom
        self.columns, self.rows = self.width // 8, self.height // 8
        self.fsc = FSC[self.hz]
        self.samples = 864 if self.hz == 50 else 858  # of a line at 13.5 MHz, BT.601 table 1
        self.normal = t.get("normal_level", 1.0)
        self.palette = self._attr() if self.kind == "attr" else self._text(t["colours"])

    def _attr(self):
        """Sixteen rows of Y, U, V in parts of white: index is bright, green, red, blue from bit 3 down."""
        out = np.zeros((16, 3))
        for i in range(16):
            level = 1.0 if i & 8 else self.normal
            out[i] = yuv(i >> 1 & 1, i >> 2 & 1, i & 1) * level
        return out

    def _text(self, colours):
        out = np.zeros((16, 3))
        for i, c in enumerate(colours):
            a = np.radians(c["angle"])
            out[i] = c["luma"], c["chroma"] * np.cos(a), c["chroma"] * np.sin(a)
        return out

    def bitmap_address(self, y, c):
        """The address of picture line y's byte in column c: y7 y6 y2 y1 y0 y5 y4 y3 c4 c3 c2 c1 c0."""
        y, c = np.asarray(y), np.asarray(c)
        return (y & 0xC0) << 5 | (y & 7) << 8 | (y & 0x38) << 2 | c


def yuv(r, g, b):
    """Weights of BT.470 table 2: U = 0.493 (B-Y), V = 0.877 (R-Y)."""
    y = 0.299 * r + 0.587 * g + 0.114 * b
    return np.array([y, 0.493 * (b - y), 0.877 * (r - y)])
