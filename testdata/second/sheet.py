#!/usr/bin/env python3
"""sheet.py FOLDER OUT.png [FRAME]: one frame of every capture in a folder, with its truth's name."""
import glob
import io
import json
import os
import subprocess
import sys

from PIL import Image, ImageDraw


def frame(folder, t, at):
    path = os.path.join(folder, t["source"])
    if os.path.isdir(path):
        return Image.open(sorted(glob.glob(path + "/*.png"))[at])
    raw = subprocess.run(["ffmpeg", "-v", "error", "-nostdin", "-i", path, "-vf", f"select=eq(n\\,{at})", "-frames:v", "1",
                          "-f", "image2pipe", "-c:v", "ppm", "-"], capture_output=True, check=True).stdout
    return Image.open(io.BytesIO(raw))


def main():
    folder, out, at = sys.argv[1], sys.argv[2], int(sys.argv[3]) if len(sys.argv) > 3 else 2
    ts = [json.load(open(f)) for f in glob.glob(folder + "/*.json")]
    ts.sort(key=lambda t: t["seed"])
    w, h, per = 480, 384, 4
    sheet = Image.new("RGB", (w * per, (h + 16) * -(-len(ts) // per)))
    d = ImageDraw.Draw(sheet)
    for i, t in enumerate(ts):
        x, y = i % per * w, i // per * (h + 16)
        sheet.paste(frame(folder, t, at).convert("RGB").resize((w - 4, h)), (x, y + 14))
        s = "+".join(f["kind"] for f in t["faults"]) or "clean"
        keys = " ".join(f"{k}={f[k]}" for f in t["faults"] for k in ("bit", "level", "lines", "lanes", "row", "column", "component",
                        "columns", "counter_bit", "codes", "line", "memory") if k in f)
        d.text((x, y), f"{t['seed']} {t['display'][:4]}{t['standard'][-3:]} {t['device']['kind']} {s} {keys}"[:78], fill="white")
    sheet.save(out)


if __name__ == "__main__":
    main()
