"""A contact sheet: one frame of each capture with its number and faults.

    sheet.py DIR SHEET.png [FRAME [FIRST LAST [COLUMNS]]]      with FRAME "ref", the references
"""
import io
import json
import os
import subprocess
import sys

from PIL import Image, ImageDraw


def still(folder, key, frame):
    """One frame of a capture, or None."""
    base = os.path.join(folder, key)
    if frame == "ref":
        base, frame = base + "-ref", 0
    if os.path.exists(base + ".png"):
        return Image.open(base + ".png")
    if os.path.isdir(base):
        names = sorted(os.listdir(base))
        return Image.open(os.path.join(base, names[min(int(frame), len(names) - 1)]))
    path = next((base + s for s in (".avi", ".mkv") if os.path.exists(base + s)), None)
    if path is None:
        return None
    png = subprocess.run(["ffmpeg", "-v", "error", "-i", path, "-vf", f"select=eq(n\\,{frame})", "-frames:v", "1", "-f", "image2pipe",
                          "-c:v", "png", "-"], capture_output=True, check=True).stdout
    return Image.open(io.BytesIO(png)) if png else None


def main():
    folder, out = sys.argv[1], sys.argv[2]
    frame = sys.argv[3] if len(sys.argv) > 3 else "6"
    low, high = (int(v) for v in sys.argv[4:6]) if len(sys.argv) > 5 else (0, 1 << 40)
    columns = int(sys.argv[6]) if len(sys.argv) > 6 else 4
    keys = sorted((f[:-5] for f in os.listdir(folder) if f[:-5].isdigit() and f.endswith(".json") and low <= int(f[:-5]) <= high), key=int)
    w, h = 450, 352
    sheet = Image.new("RGB", (columns * w, -(-len(keys) // columns) * h))
    pen = ImageDraw.Draw(sheet)
    for i, key in enumerate(keys):
        with open(os.path.join(folder, key + ".json")) as f:
            truth = json.load(f)
        picture = still(folder, key, frame)
        x, y = i % columns * w, i // columns * h
        if picture:
            sheet.paste(picture.convert("RGB").resize((w - 4, h - 16)), (x, y + 14))
        words = " ".join(f"{f['kind']} {({k: v for k, v in f.items() if k not in ('class', 'kind', 'rivals', 'visible', 'share')})}"
                         for f in truth["faults"])
        pen.text((x, y), f"{key} {truth['display'][:4]}{truth['display'][-2:]} {truth['screen']} {words}"[:75], fill="yellow")
    sheet.save(out)


if __name__ == "__main__":
    main()
