"""A machine: display memory read through its chips, fetch, counters, shifter and palette into a raster of colour numbers.

Faults are plain dicts with the keys of `check --json` and, under `made`, what else places them. Each acts where its part is.
"""
from dataclasses import dataclass, field

import numpy as np

from displays import bitmap_address, colour_address


@dataclass
class Machine:
    d: object
    mem: np.ndarray                      # 16384 bytes that the display shares with programs
    border: int
    colour: np.ndarray = None            # text: 1024 nibbles
    background: int = 0                  # text
    glyphs: np.ndarray = None            # text: 256 x 8 bytes
    phase: int = 0                       # of flash, fields
    cursor: tuple = None                 # text: address, code; software swaps it every `beat` fields
    beat: int = 16
    seed: int = 0
    decay: dict = field(default_factory=dict)


def draw(m, f, salt):
    """Chance that belongs to one field of one fault."""
    return np.random.default_rng((m.seed, salt, f))


def active(fault, m, f):
    """Whether a fault that comes and goes is there in field f."""
    duty = fault["made"].get("duty", 1.0)
    return duty >= 1 or draw(m, f // fault["made"].get("hold", 1), 7).random() < duty


def forced(value, bits, level):
    for b in bits:
        value = value | 1 << b if level else value & ~(1 << b)
    return value


def mask(lanes):
    return sum(1 << b for b in lanes)


def bad_cells(m, fault, lane):
    """Which of the 16384 cells of a weak lane are bad."""
    return np.random.default_rng((m.seed, 11, lane)).random(16384) < fault["made"]["cells"]


def retention(m, fault, lane):
    """Fields until each cell of a lane has lost its charge, and what it then reads: rows share most of their time."""
    key = lane, fault["made"]["half"], fault["made"]["spread"]
    if key not in m.decay:
        r = np.random.default_rng((m.seed, 13, lane))
        rows = r.lognormal(0, fault["made"]["spread"], 128)
        a = np.arange(16384)
        m.decay[key] = fault["made"]["half"] * rows[a & 127] * r.lognormal(0, 0.15, 16384), (a >> 6 & 1 ^ lane & 1).astype(np.uint8)
    return m.decay[key]


def read(m, addr, faults, f, memory="screen"):
    """Bytes at addresses as the chips give them in field f."""
    store = m.mem if memory == "screen" else m.colour
    addr = addr & (store.size - 1)
    data = store[addr].copy()
    for x in faults:
        if x["class"] != "ram-bit" or x.get("memory", "screen") != memory or not active(x, m, f):
            continue
        kind, made = x["kind"], x["made"]
        bit = 1 << x["bit"] if x.get("bit") is not None else 0
        level = made.get("level", 0)
        put = np.uint8(bit if level else 0)
        if kind == "data-bit-stuck":
            data = data & ~np.uint8(bit) | put
        elif kind == "data-bit-weak":
            bad = bad_cells(m, x, x["bit"])[addr]
            if made["rate"] < 1:
                bad = bad & (draw(m, f, 17).random(addr.shape) < made["rate"])
            data = np.where(bad, data & ~np.uint8(bit) | put, data)
        elif kind in ("row-dead", "column-dead"):
            there = addr & 127 == x["row"] if kind == "row-dead" else addr >> 7 == x["column"]
            data = np.where(there, data & ~np.uint8(bit) | put, data)
        elif kind == "address-line-stuck":
            some = np.uint8(mask(x["lanes"]))
            data = data & ~some | store[forced(addr, made["fold"], level) & (store.size - 1)] & some
        elif kind == "refresh-loss":
            for lane in x["lanes"]:
                life, empty = retention(m, x, lane)
                data = np.where(life[addr] < f + made["since"], data & ~np.uint8(1 << lane) | empty[addr] << lane, data)
        elif kind == "supply-or-all-lanes":
            r = draw(m, f, 19)
            for lane in x["lanes"]:
                hit = r.random(addr.shape) < made["rate"] * r.uniform(0.6, 1.4)
                data = np.where(hit, data & ~np.uint8(1 << lane) | (r.random(addr.shape) < made["lean"]).astype(np.uint8) << lane, data)
    return data.astype(np.uint8)


def columns_hit(x, cols):
    """Which columns a fetch fault hits; `after N` begins at N + 1."""
    c = np.arange(cols)
    if x["columns"] in ("odd", "even"):
        return c % 2 == (x["columns"] == "odd")
    return c > int(x["columns"].split()[1]) if x["columns"].startswith("after") else c < 0


def fetch(m, faults, f, parts):
    """Fetch faults on the arrays of bytes, lines x columns, that a line's cells are built from."""
    for x in faults:
        if x["kind"] == "cell-fetch" and active(x, m, f):
            if x["columns"] == "colour-shift":
                parts[1] = np.roll(parts[1], x["made"]["by"], axis=1)
                continue
            hit = columns_hit(x, parts[0].shape[1])
            when = draw(m, f, 23).random(parts[0].shape) < x["made"]["rate"]
            for i, p in enumerate(parts):
                if x["made"]["how"] == "held":  # the latch keeps what the column before left in it
                    last = np.maximum.accumulate(np.where(hit, 0, np.arange(hit.size)))
                    wrong = p[:, last]
                else:  # an idle bus reads as the pull-ups hold it
                    wrong = np.full_like(p, x["made"]["idle"] if i == 0 or m.d.attr else x["made"]["idle"] & 15)
                parts[i] = np.where(hit[None, :] & when, wrong, p)
        elif x["kind"] == "cell-snow":
            r = draw(m, f, 29)
            rows = r.random((m.d.rows, m.d.cols)) < x["made"]["rate"]
            for i, p in enumerate(parts):
                hit = np.repeat(rows, 8, axis=0) & (r.random(p.shape) < (0.8 if i == 0 else 0.4))
                if not m.d.attr:
                    hit = np.repeat(rows & (r.random(rows.shape) < (0.9, 0.2)[i]), 8, axis=0)
                noise = r.integers(0, 256, p.shape, dtype=np.uint8)
                if not m.d.attr:
                    noise = np.repeat(noise[::8], 8, axis=0) & (255, 15)[i]
                parts[i] = np.where(hit, noise, p)
    return parts


def shift(bits, faults, m, f):
    """The shift register: lines x columns x 8 bits, the leftmost first."""
    for x in faults:
        if x["kind"] == "shift-register" and active(x, m, f):
            how = x["made"]["how"]
            if how == "stage":  # a stuck stage spoils all that must pass through it
                bits = bits.copy()
                bits[:, :, x["made"]["stage"]:] = x["made"]["level"]
            elif how == "late":  # loaded a clock late
                flat = bits.reshape(bits.shape[0], -1)
                bits = np.roll(flat, 1, axis=1).reshape(bits.shape)
            elif how == "half-clock":  # every second clock is lost
                bits = bits[:, :, [0, 0, 1, 1, 2, 2, 3, 3]]
            elif how == "reversed":
                bits = bits[:, :, ::-1]
    return bits


def picture(m, faults, f):
    """Colour numbers of the picture area in field f."""
    d = m.d
    y = np.arange(d.h)
    for x in faults:
        if x["kind"] == "line-counter" and active(x, m, f):
            y = forced(y, [x["counter_bit"]], x["made"]["level"])
    y, c = y[:, None], np.arange(d.cols)[None, :]
    if d.attr:
        data, colour = fetch(m, faults, f, [read(m, bitmap_address(y, c), faults, f), read(m, colour_address(y, c), faults, f)])
        dead = any(x["kind"] == "flash-dead" for x in faults)
        if not dead and (f + m.phase) // 16 & 1:
            data = np.where(colour & 0x80, ~data, data)
        ink, paper = colour & 7 | colour >> 3 & 8, colour >> 3 & 15
        bits = shift(np.unpackbits(data[:, :, None], axis=2), faults, m, f)
        return np.where(bits, ink[:, :, None], paper[:, :, None]).reshape(d.h, d.w)
    addr = (y >> 3) * 40 + c + 0 * y
    code, ink = fetch(m, faults, f, [read(m, addr, faults, f), read(m, addr, faults, f, "colour") & 15])
    if m.cursor and (f + m.phase) // m.beat & 1:
        code = np.where(addr == m.cursor[0], m.cursor[1], code)
    where = code.astype(int) * 8 + (y & 7)
    gen = m.glyphs
    for x in faults:
        if x["kind"] == "character-generator" and x["made"]["how"] == "codes":
            gen = gen.copy()
            for k in x["codes"]:
                gen[k] ^= np.array(x["made"]["flips"], np.uint8)
    data = gen.reshape(-1)[where]
    for x in faults:
        if x["kind"] == "character-generator" and active(x, m, f):
            if x["made"]["how"] == "bit":
                b = np.uint8(1 << x["bit"])
                data = data | b if x["made"]["level"] else data & ~b
            elif x["made"]["how"] == "line":
                data = gen.reshape(-1)[forced(where, [x["line"]], x["made"]["level"])]
    bits = shift(np.unpackbits(data[:, :, None], axis=2), faults, m, f)
    return np.where(bits, ink[:, :, None], m.background).reshape(d.h, d.w)


def raster(m, faults, f):
    """Colour numbers of all that is seen, border included, in field f, and the Y, U, V of each number."""
    d, table = m.d, m.d.table.copy()
    inside, border = picture(m, faults, f), m.border
    for x in faults:
        if x["kind"] == "blank-picture" and active(x, m, f):
            inside = np.full_like(inside, x["made"]["colour"])
        elif x["kind"] == "border-latch":
            border = x["seen"]
    out = np.full((d.top + d.h + d.bottom, d.left + d.w + d.right), border, np.uint8)
    out[d.top:d.top + d.h, d.left:d.left + d.w] = inside
    for x in faults:
        if x["kind"] == "colour-path" and active(x, m, f):
            if d.attr:
                b = {"green": 4, "red": 2, "blue": 1}[x["component"]]
                out = out | b if x["level"] else out & ~np.uint8(b)
            else:
                table[:, ("luma", "cb", "cr").index(x["component"])] = x["made"]["value"]
    return out, table


def looks(m, faults, f):
    """The raster as light, to compare two of them."""
    out, table = raster(m, faults, f)
    return table[out]
