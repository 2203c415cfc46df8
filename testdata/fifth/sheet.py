"""A contact sheet: sheet.py DIR OUT.png FRAME FIRST LAST [ref]"""
import io
import json
import os
import subprocess
import sys

import numpy as np
from PIL import Image, ImageDraw


def still(path, frame):
    """One frame of a capture, in colour."""
    if os.path.isdir(path):
        return Image.open(f"{path}/{sorted(os.listdir(path))[0]}")
    if path.endswith(".png"):
        return Image.open(path)
    got = subprocess.run(["ffmpeg", "-v", "error", "-i", path, "-vf", f"select=gte(n\\,{frame})", "-frames:v", "1", "-f", "image2pipe", "-c:v", "ppm", "-"],
                         capture_output=True, check=True)
    return Image.open(io.BytesIO(got.stdout))


def main():
    folder, out, frame, first, last = sys.argv[1], sys.argv[2], int(sys.argv[3]), int(sys.argv[4]), int(sys.argv[5])
    ref = len(sys.argv) > 6
    cards = []
    for k in range(first, last + 1):
        if not os.path.exists(f"{folder}/{k}.json"):
            continue
        with open(f"{folder}/{k}.json") as f:
            t = json.load(f)
        name = t["reference"] if ref else t["file"]
        if not name:
            continue
        im = still(f"{folder}/{name}", 0 if ref else min(frame, t["frames"] - 1)).convert("RGB").resize((360, 270), Image.BILINEAR)
        card = Image.new("RGB", (364, 290), (40, 40, 40))
        card.paste(im, (2, 2))
        kinds = "+".join(f["kind"] + ("" if f.get("visible", True) else "(hidden)") for f in t["faults"]) or "clean"
        ImageDraw.Draw(card).text((4, 275), f"{k} {t['display'][:4]}{t['display'][-2:]} {t['screen']}: {kinds}", fill=(255, 255, 255))
        cards.append(np.asarray(card))
    while len(cards) % 5:
        cards.append(np.zeros_like(cards[0]))
    rows = [np.hstack(cards[i:i + 5]) for i in range(0, len(cards), 5)]
    Image.fromarray(np.vstack(rows)).save(out)


if __name__ == "__main__":
    main()
