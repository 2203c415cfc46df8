"""A contact sheet: sheet.py DIR OUT.png FRAME FIRST COUNT"""
import json, os, subprocess, sys
import numpy as np
from PIL import Image, ImageDraw
folder, out, frame, first, count = sys.argv[1], sys.argv[2], int(sys.argv[3]), int(sys.argv[4]), int(sys.argv[5])
W, H = 360, 288
cols = 4
sheet = Image.new("RGB", (cols * W, (count + cols - 1) // cols * (H + 14)))
for k in range(count):
    s = first + k
    t = json.load(open(f"{folder}/{s}.json"))
    if os.path.isdir(f"{folder}/{s}"):
        im = Image.open(f"{folder}/{s}/{frame:04d}.png")
    else:
        src = next(p for p in (f"{folder}/{s}.avi", f"{folder}/{s}.mkv") if os.path.exists(p))
        h = 576 if t["display"].endswith("50") else 480
        raw = subprocess.run(["ffmpeg", "-v", "error", "-i", src, "-vf", f"select=eq(n\\,{frame})", "-frames:v", "1", "-f", "rawvideo", "-pix_fmt", "rgb24", "-"], capture_output=True).stdout
        im = Image.fromarray(np.frombuffer(raw, np.uint8).reshape(h, 720, 3))
    x, y = k % cols * W, k // cols * (H + 14)
    sheet.paste(im.resize((W, H), Image.BOX), (x, y + 14))
    ImageDraw.Draw(sheet).text((x + 2, y + 1), f"{s} {'+'.join(f['kind'] for f in t['faults']) or 'clean'} {t['screen']}", fill=(255, 255, 0))
sheet.save(out)
