"""Frames to files: MJPEG in AVI (as cheap devices send it), FFV1 in MKV, or PNG stills."""
import os
import subprocess

import numpy as np
from PIL import Image


def weave(first, second, bottom_first):
    """Two fields (Y, Cb, Cr), the earlier one first, into a frame's planes."""
    out = []
    for a, b in zip(first, second):
        f = np.empty((2 * len(a), a.shape[1]), np.uint8)
        f[(1 if bottom_first else 0)::2] = a
        f[(0 if bottom_first else 1)::2] = b
        out.append(f)
    return out


def rgb(frame, full):
    y, cb, cr = [np.asarray(q, np.float32) for q in frame]
    cb, cr = cb.repeat(2, 1) - 128, cr.repeat(2, 1) - 128
    k, o, c = (1, 0, 224 / 255) if full else (255 / 219, 16, 1)
    y, cb, cr = (y - o) * k, cb * c * 255 / 224, cr * c * 255 / 224
    a = np.stack([y + 1.402 * cr, y - .344136 * cb - .714136 * cr, y + 1.772 * cb], -1)
    return np.clip(np.round(a), 0, 255).astype(np.uint8)


def video(path, frames, rate, how, quality=4, full=False):
    """how: mjpeg422, mjpeg420, ffv1. Codes go in as they are, whatever their range."""
    h, w = frames[0][0].shape
    jpeg = how.startswith("mjpeg")
    src = "yuvj422p" if jpeg else "yuv422p"
    cmd = ["ffmpeg", "-v", "error", "-nostdin", "-y", "-threads", "1", "-f", "rawvideo", "-pix_fmt", src, "-s", f"{w}x{h}",
           "-r", rate, "-i", "-"]
    if jpeg:
        cmd += ["-c:v", "mjpeg", "-q:v", str(quality), "-pix_fmt", "yuvj422p" if how == "mjpeg422" else "yuvj420p"]
    else:
        cmd += ["-c:v", "ffv1", "-pix_fmt", "yuv422p"] + (["-color_range", "pc"] if full else [])
    cmd += ["-threads", "1", path]
    subprocess.run(cmd, input=b"".join(q.tobytes() for f in frames for q in f), check=True)


def stills(folder, frames, full):
    os.makedirs(folder, exist_ok=True)
    for i, f in enumerate(frames):
        Image.fromarray(rgb(f, full)).save(os.path.join(folder, f"{i:03d}.png"), compress_level=1)


def still(path, frame, full):
    Image.fromarray(rgb(frame, full)).save(path)
