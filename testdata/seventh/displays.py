"""The four displays, from the project's own profile files: geometry, timing, colours, and where in memory a cell lies."""
import glob
import os
import tomllib

import numpy as np

FOLDER = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..", "video", "display", "profiles")
SUBCARRIER = {"625/50": 4433618.75, "525/60": 315e6 / 88}


class Display:
    def __init__(self, path):
        with open(path, "rb") as f:
            p = tomllib.load(f)
        self.name, self.kind, self.standard = p["name"], p["kind"], p["standard"]
        self.pal = self.standard == "625/50"
        self.clock, self.line_pixels, self.field_lines = p["pixel_clock_hz"], p["line_pixels"], p["field_lines"]
        self.width, self.height = p["width"], p["height"]
        self.left, self.right, self.top, self.bottom = (p["border_" + s] for s in ("left", "right", "top", "bottom"))
        self.seen_w, self.seen_h = self.left + self.width + self.right, self.top + self.height + self.bottom
        self.columns, self.rows = self.width // 8, self.height // 8
        self.line_hz = self.clock / self.line_pixels
        self.field_hz = self.line_hz / self.field_lines
        self.samples = 864 if self.pal else 858
        self.pitch = self.samples / self.line_pixels
        self.sample_hz = self.samples * self.line_hz  # the device's clock is locked to the line
        self.field_height = 288 if self.pal else 240
        # Subcarrier: free of the line on bitmap displays, made from the pixel clock's own crystal on text ones.
        self.fsc = SUBCARRIER[self.standard]
        if self.kind == "text":
            self.fsc = self.line_hz * (283.5 if self.pal else 227.5)
        if self.kind == "attr":
            self.palette = np.array([[(g >> 1 & 1) * k, (g >> 2 & 1) * k, (g & 1) * k]
                                     for k in (p["normal_level"], 1.0) for g in range(8)])  # index: bright, green, red, blue
            self.order, self.colour_base = p["memory"]["bitmap"], p["memory"]["colour_base"]
        else:
            self.palette = np.array([from_luma(c["luma"], c["chroma"], c["angle"]) for c in p["colours"]])

    def bitmap_address(self, y, c):
        """Address of the byte of picture line y and column c: the order of bits is the profile's."""
        a = 0
        for name in self.order:
            a = a << 1 | ((y if name[0] == "y" else c) >> int(name[1:]) & 1)
        return a

    def colour_address(self, y, c):
        return self.colour_base + 32 * (y >> 3) + c


def from_luma(luma, chroma, angle):
    """R, G, B of a colour given by luma and by amplitude and angle on the U-V plane."""
    u, v = chroma * np.cos(np.radians(angle)), chroma * np.sin(np.radians(angle))
    r, b = luma + v / .877, luma + u / .493
    return [r, (luma - .299 * r - .114 * b) / .587, b]


def ycc(rgb):
    """Y (0..1), Cb and Cr (-0.5..0.5) by BT.601."""
    r, g, b = np.moveaxis(np.asarray(rgb, float), -1, 0)
    y = .299 * r + .587 * g + .114 * b
    return np.stack([y, .5 / .886 * (b - y), .5 / .701 * (r - y)], -1)


def load():
    found = [Display(p) for p in sorted(glob.glob(os.path.join(FOLDER, "*.toml")))]
    return {d.name: d for d in found}
