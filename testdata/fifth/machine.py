"""From memory to the colour of every pixel seen, with faults where they sit: chips, fetch, counter, shifter, generator, border."""
import numpy as np

ADDRESSES = np.arange(16384)


class Machine:
    def __init__(self, d, canvas, table, seed):
        self.d, self.table, self.seed = d, table, seed
        self.mem = canvas.memory()
        self.border = canvas.border
        self.paper = canvas.paper
        self.nibbles = np.zeros(2048, np.uint8)
        if d.kind == "text":
            self.nibbles[:1000] = canvas.colour.ravel()
            self.nibbles[1000:] = np.random.default_rng(seed).integers(0, 16, 1048)
        self.flash0 = seed % 32  # where in its 32 fields the flash stands
        self.cursor = getattr(canvas, "cursor", None)  # the cell that software turns over every 20 fields, text displays
        self.inverse = getattr(canvas, "sort", "") == "inverse"

    def rng(self, f, field):
        return np.random.default_rng([self.seed, f["_id"], field + 3])

    def phase(self, field):
        """Which of two pictures is due: of the flash, or of the cursor."""
        return (field + self.flash0) // (16 if self.d.kind == "attr" else 20) % 2

    # chips

    def banks(self, faults, field):
        """What a read of each address gives: screen memory, colour memory."""
        mem, nib = self.mem, self.nibbles
        if self.cursor is not None and self.phase(field):
            mem = mem.copy()
            mem[self.cursor] = mem[self.cursor] ^ 128 if self.inverse else 128 + 15
        for f in faults:
            if f["class"] != "ram-bit" or not on(f, field):
                continue
            if f.get("memory") == "colour":
                nib = chip(f, nib, self.rng(f, 0 if f["kind"] == "data-bit-stuck" else field), field)
            else:
                mem = chip(f, mem, self.rng(f, field), field)
        return mem, nib

    # the raster

    def raster(self, faults, field):
        """Colour numbers of the part seen, and the numbers' colours."""
        d = self.d
        logic = [f for f in faults if f["class"] == "video-logic" and on(f, field)]
        mem, nib = self.banks(faults, field)
        y = np.arange(d.height)
        for f in logic:
            if f["kind"] == "line-counter":
                k = 1 << f["counter_bit"]
                y = y | k if f["level"] else y & ~k
        c = np.arange(d.columns)[None, :]
        if d.kind == "attr":
            data, colour = mem[d.bitmap_address(y[:, None], c)], mem[6144 + 32 * (y[:, None] >> 3) + c]
        else:
            at = (y[:, None] >> 3) * 40 + c
            data, colour = mem[at], nib[at]
        for f in logic:
            if f["kind"] == "cell-fetch":
                data, colour = misfetch(f, data, colour, self.rng(f, field))
            if f["kind"] == "cell-snow":
                data, colour = snow(f, data, colour, self.rng(f, field))
        if d.kind == "text":
            data = generate(self.table, data, y, logic)
        pix = np.unpackbits(data, axis=1).reshape(d.height, d.columns, 8)
        for f in logic:
            if f["kind"] == "shift-register":
                pix = shifted(f, pix)
        if d.kind == "attr":
            dead = any(f["kind"] == "flash-dead" for f in logic)
            if not dead and self.phase(field):
                pix = pix ^ (colour >> 7)[:, :, None]
            bright = colour >> 3 & 8
            ink, paper = colour & 7 | bright, colour >> 3 & 7 | bright
        else:
            ink, paper = colour & 15, np.full_like(colour, self.paper)
        cells = np.where(pix.astype(bool), ink[:, :, None], paper[:, :, None]).reshape(d.height, d.width)
        edge = self.border
        for f in logic:
            if f["kind"] == "border-latch":
                edge = f["seen"]
        for f in logic:
            if f["kind"] == "blank-picture":
                cells = np.full_like(cells, edge if f["made"]["with"] == "border" else 0)
        out = np.full((d.seen_h, d.seen_w), edge, np.uint8)
        out[d.top:d.top + d.height, d.left:d.left + d.width] = cells
        palette = d.palette
        for f in logic:
            if f["kind"] == "colour-path":
                palette = recoloured(d, palette, f)
        return out, palette


def on(f, field):
    """Whether an intermittent fault is there in this field."""
    runs = f.get("_runs")
    return runs is None or bool(runs[(field + 2) % len(runs)])


def put_bits(old, new, lanes):
    """The lanes' bits from new, the others from old."""
    mask = np.uint8(sum(1 << b for b in lanes))
    return old & ~mask | new & mask


def chip(f, mem, rng, field):
    """Memory as it is read with a fault in some lanes."""
    kind, n = f["kind"], len(mem)
    a = ADDRESSES[:n]
    if kind == "data-bit-stuck":
        return put_bits(mem, np.uint8(255 * f["level"]), [f["bit"]])
    if kind == "address-line-stuck":
        mask = sum(1 << k for k in f["made"]["lines"])
        return put_bits(mem, mem[a | mask if f["level"] else a & ~mask], f["lanes"])
    if kind in ("row-dead", "column-dead"):
        hit = (a & 127) == f["row"] if kind == "row-dead" else (a >> 7) == f["column"]
        return np.where(hit, put_bits(mem, np.uint8(255 * f["level"]), [f["bit"]]), mem)
    if kind == "data-bit-weak":
        hit = f["_cells"][:n] & (rng.random(n) < f["made"]["in_time"])
        return np.where(hit, put_bits(mem, np.uint8(255 * f["made"]["to"]), [f["bit"]]), mem)
    if kind == "refresh-loss":
        past = f["made"]["elapsed_ms"] + field * f["made"]["ms_a_field"]
        out = mem
        for k, b in enumerate(f["lanes"]):  # half of the rows keep the complement, so they fall to the other value
            fallen = f["_hold"][k][:n] < past
            out = np.where(fallen, put_bits(out, np.where((a & 127) >= f["made"]["turn"], 0, 255).astype(np.uint8), [b]), out)
        return out
    if kind == "supply-or-all-lanes":
        out = mem
        for b, p, to in zip(f["lanes"], f["made"]["rates"], f["made"]["to"]):
            row = np.repeat(rng.random(n // 128 + 1), 128)[:n]  # a column strobe's margin moves with time
            hit = rng.random(n) < p * (0.5 + row)
            level = np.uint8(255 * to) if to is not None else rng.integers(0, 256, n).astype(np.uint8)
            out = np.where(hit, put_bits(out, level, [b]), out)
        return out
    raise ValueError(kind)


def misfetch(f, data, colour, rng):
    """Cells by place: what comes is the column's before, an open bus, or both at once."""
    columns, h, w = f["columns"], *data.shape
    if columns == "colour-shift":
        k = f["made"]["by"]
        return data, np.roll(colour, k, 1)
    c = np.arange(w)
    place = c % 2 == 1 if columns == "odd" else c % 2 == 0 if columns == "even" else c > int(columns.split()[1])
    hit = place[None, :] & (rng.random((h // 8, 1)).repeat(8, 0) < f["made"]["rate"])
    if f["made"]["rate"] < 1:
        hit = hit & (rng.random((h, w)) < 0.9)
    way = f["made"]["way"]
    if way == "before":
        if columns.startswith("after"):
            n = int(columns.split()[1])
            wrong, wc = data[:, n:n + 1].repeat(w, 1), colour[:, n:n + 1].repeat(w, 1)
        else:
            wrong, wc = np.roll(data, 1, 1), np.roll(colour, 1, 1)
    elif way == "bus":
        wrong, wc = np.full_like(data, 255), np.full_like(colour, 255)
    else:
        wrong, wc = data | np.roll(data, 1, 1), colour | np.roll(colour, 1, 1)
    return np.where(hit, wrong, data), np.where(hit, wc, colour)


def snow(f, data, colour, rng):
    """Single bytes from the processor's side of the bus, another place in each field."""
    data, colour = data.copy(), colour.copy()
    n = rng.poisson(f["made"]["bytes_a_field"])
    h, w = data.shape
    y, c = rng.integers(0, h, n), rng.integers(0, w, n)
    data[y, c] = rng.integers(0, 256, n)
    k = rng.random(n) < 0.4
    colour[y[k], c[k]] = rng.integers(0, 256, k.sum())
    return data, colour


def shifted(f, pix):
    way, out = f["made"]["way"], pix.copy()
    if way == "stage":
        out[:, :, f["made"]["pixel"]] = f["made"]["level"]
    elif way == "late":  # one clock late: the first pixel stands twice
        out[:, :, 1:] = pix[:, :, :-1]
    elif way == "pairs":  # every second clock is missing
        out[:, :, 1::2] = pix[:, :, ::2]
    else:  # two stages together
        k = f["made"]["pixel"]
        out[:, :, k] = pix[:, :, k] | pix[:, :, (k + 1) % 8]
    return out


def generate(table, codes, y, logic):
    """Rows of glyphs, with the generator's faults."""
    line = (y & 7)[:, None]
    at = codes.astype(int) * 8 + line
    table = table.ravel()
    for f in logic:
        if f["kind"] != "character-generator":
            continue
        if f.get("line") is not None:
            k = 1 << f["line"]
            at = at | k if f["made"]["level"] else at & ~k
        elif f.get("bit") is not None:
            table = put_bits(table, np.uint8(255 * f["made"]["level"]), [f["bit"]])
        else:
            table = table.copy()
            for code in f["codes"]:
                table[code * 8:code * 8 + 8] ^= np.uint8(f["made"]["pattern"])
    return table[at]


def recoloured(d, palette, f):
    out, name = palette.copy(), f["component"]
    if d.kind == "attr":
        bit = {"blue": 1, "red": 2, "green": 4}[name]
        i = np.arange(16)
        return palette[i | bit if f["level"] else i & ~bit]
    if name == "luma":
        out[:, 0] = 0
    else:
        out[:, 1 if name == "cb" else 2] = 0
    return out
