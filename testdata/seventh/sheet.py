"""A contact sheet: sheet.py DIR OUT.png FRAME [FIRST COUNT ACROSS [ref]], each capture's frame with its display and kinds."""
import glob
import json
import os
import subprocess
import sys

from PIL import Image, ImageDraw


def grab(path, n):
    """Frame n of a capture, or its last."""
    if os.path.isdir(path):
        files = sorted(glob.glob(path + "/*.png"))
        return Image.open(files[min(n, len(files) - 1)]).convert("RGB")
    if path.endswith(".png"):
        return Image.open(path).convert("RGB")
    size = subprocess.run(["ffprobe", "-v", "error", "-select_streams", "v", "-show_entries", "stream=width,height", "-of", "csv=p=0", path], capture_output=True, text=True)
    w, h = map(int, size.stdout.strip().strip(",").split(","))
    data = subprocess.run(["ffmpeg", "-v", "error", "-i", path, "-vf", f"select=gte(n\\,{n})", "-frames:v", "1", "-f", "rawvideo", "-pix_fmt", "rgb24", "-"],
                          capture_output=True).stdout
    return Image.frombytes("RGB", (w, h), data[:3 * w * h])


def main():
    folder, out, frame = sys.argv[1], sys.argv[2], int(sys.argv[3])
    first, count, across = (int(x) for x in (sys.argv[4:7] or (0, 10 ** 6, 6)))
    truths = []
    for p in glob.glob(folder + "/*.json"):
        if os.path.basename(p)[:-5].isdigit():
            with open(p) as f:
                truths.append(json.load(f))
    truths = sorted((t for t in truths if first <= t["seed"] < first + count and (len(sys.argv) < 8 or t["reference"])), key=lambda t: t["seed"])
    w, h = 360, 288
    sheet = Image.new("RGB", (across * w, -(-len(truths) // across) * (h + 26)), (40, 40, 40))
    draw = ImageDraw.Draw(sheet)
    for i, t in enumerate(truths):
        x, y = i % across * w, i // across * (h + 26)
        sheet.paste(grab(os.path.join(folder, t["reference"] if len(sys.argv) > 7 else t["file"]), frame).resize((w - 4, h)), (x, y))
        what = []
        for f in t["faults"]:
            keys = [f"{k}={v}" for k, v in f.items() if k not in ("class", "kind", "visible", "share", "rivals", "made")]
            keys += [f"{k}={v}" for k, v in f["made"].items() if k not in ("severity", "duty")][:4]
            what.append(f["kind"] + " " + " ".join(keys) + ("" if f["visible"] else " HIDDEN"))
        draw.text((x + 2, y + h), f"{t['seed']} {t['display']} {t['screen']} {t['device']['container']}{' REF' if t['reference'] else ''}", fill=(255, 255, 255))
        draw.text((x + 2, y + h + 12), " + ".join(what)[:62] or "clean", fill=(255, 220, 120))
    sheet.save(out)


if __name__ == "__main__":
    main()
