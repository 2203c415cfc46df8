"""Frames of 4:2:2 codes to files."""
import os
import subprocess

import numpy as np
from PIL import Image


def weave(fields, order):
    """Pairs of fields to frames; `order` 1 puts the later one on the upper lines."""
    frames = []
    for a, b in zip(fields[::2], fields[1::2]):
        planes = []
        for p, q in zip(a, b):
            out = np.empty((2 * p.shape[0], p.shape[1]), np.uint8)
            out[order::2], out[1 - order::2] = p, q
            planes.append(out)
        frames.append(planes)
    return frames


def video(path, frames, pal, codec, quality):
    """MJPEG, FFV1 or HuffYUV with the codes as they are."""
    h, w = frames[0][0].shape
    pix = "yuvj422p" if codec == "mjpeg" else "yuv422p"
    how = {"mjpeg": ["-c:v", "mjpeg", "-q:v", str(quality)], "ffv1": ["-c:v", "ffv1"], "huffyuv": ["-c:v", "huffyuv"]}[codec]
    data = b"".join(p.tobytes() for f in frames for p in f)
    subprocess.run(["ffmpeg", "-v", "error", "-y", "-threads", "1", "-f", "rawvideo", "-pix_fmt", pix, "-s", f"{w}x{h}",
                    "-r", "25" if pal else "30000/1001", "-i", "-", *how, "-pix_fmt", pix, "-threads", "1", path], input=data, check=True)


def rgb(frame, full):
    """BT.601's matrix on a frame's codes."""
    y, cb, cr = (p.astype(np.float32) for p in frame)

    def wide(c):  # chroma lies with the even luma samples
        out = np.repeat(c, 2, axis=1)
        out[:, 1:-1:2] = (c[:, :-1] + c[:, 1:]) / 2
        return out - 128

    cb, cr = wide(cb), wide(cr)
    y = y if full else (y - 16) * (255 / 219)
    k = 1.0 if full else 255 / 224
    return np.clip(np.dstack([y + 1.402 * k * cr, y - k * (0.344136 * cb + 0.714136 * cr), y + 1.772 * k * cb]) + 0.5, 0, 255).astype(np.uint8)


def still(path, frame, full):
    Image.fromarray(rgb(frame, full)).save(path)


def clear(folder, key):
    for end in (".avi", ".mkv", "-ref.avi", "-ref.png", ".font", ".json"):
        if os.path.exists(f"{folder}/{key}{end}"):
            os.remove(f"{folder}/{key}{end}")
    if os.path.isdir(f"{folder}/{key}"):
        for name in os.listdir(f"{folder}/{key}"):
            os.remove(f"{folder}/{key}/{name}")
        os.rmdir(f"{folder}/{key}")
