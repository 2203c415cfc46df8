"""The four displays."""
import math
from dataclasses import dataclass


@dataclass(frozen=True)
class Profile:
    name: str
    text: bool
    pal: bool
    clock: float
    periods: int
    lines: int
    w: int
    h: int
    left: int
    right: int
    above: int
    below: int

    @property
    def samples(self):
        return 864 if self.pal else 858

    @property
    def rows(self):
        return 288 if self.pal else 240

    @property
    def pitch(self):
        return self.samples / self.periods

    @property
    def line_rate(self):
        return self.clock / self.periods

    @property
    def field_rate(self):
        return self.line_rate / self.lines

    @property
    def origin(self):
        """Nominal place of the picture in the device's window: the part seen is in its middle."""
        seen = self.left + self.w + self.right
        return (720 - seen * self.pitch) / 2 + self.left * self.pitch, (self.rows - (self.above + self.h + self.below)) // 2 + self.above

    @property
    def subcarrier(self):
        return 4433618.75 if self.pal else 5e6 * 63 / 88


PROFILES = {p.name: p for p in (
    Profile("attr-256x192-50", False, True, 7e6, 448, 312, 256, 192, 48, 48, 48, 48),
    Profile("attr-256x192-60", False, False, 7.056e6, 448, 262, 256, 192, 48, 48, 24, 24),
    Profile("text-40x25-50", True, True, 7881988, 504, 312, 320, 200, 42, 42, 42, 42),
    Profile("text-40x25-60", True, False, 8181817, 520, 263, 320, 200, 42, 42, 20, 20),
)}

ANGLES = {"red": 103.48, "yellow": 167.11, "green": 240.66, "cyan": 283.48, "blue": 347.11, "magenta": 60.66}


def palette(p):
    """(luma, U, V) of 16 colours, in parts of white."""
    out = []
    if p.text:
        out = [(v, 0.0, 0.0) for v in (0.0, 0.33, 0.66, 1.0)]
        for luma in (0.35, 0.70):
            for a in ANGLES.values():
                out.append((luma, 0.20 * math.cos(math.radians(a)), 0.20 * math.sin(math.radians(a))))
        return out
    for k in range(16):
        v = 1.0 if k & 8 else 0.85
        g, r, b = (k >> 2 & 1) * v, (k >> 1 & 1) * v, (k & 1) * v
        y = 0.299 * r + 0.587 * g + 0.114 * b
        out.append((y, 0.493 * (b - y), 0.877 * (r - y)))
    return out
