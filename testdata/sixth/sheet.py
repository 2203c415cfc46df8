"""A contact sheet: sheet.py DIR OUT.png FRAME FIRST LAST [COLUMNS] [ref]."""
import json
import os
import subprocess
import sys

import numpy as np
from PIL import Image, ImageDraw


def grab(path, n):
    """Frame n of a file, or the last before it."""
    if os.path.isdir(path):
        path = os.path.join(path, sorted(os.listdir(path))[0])
    if path.endswith(".png"):
        return Image.open(path).convert("RGB")
    for k in (n, 0):
        raw = subprocess.run(["ffmpeg", "-v", "error", "-i", path, "-vf", f"select=eq(n\\,{k})", "-frames:v", "1", "-f", "image2pipe", "-c:v", "ppm",
                              "-"], capture_output=True).stdout
        if raw:
            import io
            return Image.open(io.BytesIO(raw)).convert("RGB")


def main():
    folder, out, n, first, last = sys.argv[1], sys.argv[2], *map(int, sys.argv[3:6])
    columns = int(sys.argv[6]) if len(sys.argv) > 6 else 5
    ref = "ref" in sys.argv
    tiles = []
    for k in range(first, last + 1):
        with open(f"{folder}/{k}.json") as f:
            t = json.load(f)
        if ref and not t["reference"]:
            continue
        path = f"{folder}/{t['reference']}" if ref else next(p for p in (f"{folder}/{k}{e}" for e in (".avi", ".mkv", "")) if os.path.exists(p))
        im = grab(path, n).resize((360, 288))
        draw = ImageDraw.Draw(im)
        words = f"{k} {t['screen']} " + ("+".join(x["kind"] + ("" if x["visible"] else "(hidden)") for x in t["faults"]) or "clean")
        more = " ".join(f"{a}={x[a]}" for x in t["faults"] for a in ("bit", "level", "lines", "lanes", "row", "column", "component", "columns", "counter_bit",
                                                                     "codes", "period_px", "degrees") if a in x) + (" weak" if t["weak"] else "")
        draw.rectangle((0, 0, 360, 24), fill="black")
        draw.text((2, 1), words, fill="white")
        draw.text((2, 12), more[:70], fill="yellow")
        tiles.append(np.array(im))
    while len(tiles) % columns:
        tiles.append(np.zeros((288, 360, 3), np.uint8))
    Image.fromarray(np.vstack([np.hstack(tiles[i:i + columns]) for i in range(0, len(tiles), columns)])).save(out)


if __name__ == "__main__":
    main()
