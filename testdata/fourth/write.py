"""Frames to files: MJPEG in AVI, lossless video, or PNG stills; codes go in as they are."""
import os
import subprocess

import numpy as np
from PIL import Image


def weave(first, second):
    """A frame of two fields, the first on the upper lines."""
    out = []
    for a, b in zip(first, second):
        frame = np.empty((2 * a.shape[0], a.shape[1]), np.uint8)
        frame[::2], frame[1::2] = a, b
        out.append(frame)
    return out


def video(frames, path, codec, quality, rate):
    """Frames of 4:2:2 planes to a file by ffmpeg, without a change of range."""
    h, w = frames[0][0].shape
    fmt = "yuvj422p" if codec == "mjpeg" else "yuv422p"
    args = ["ffmpeg", "-v", "error", "-y", "-threads", "1", "-f", "rawvideo", "-pix_fmt", fmt, "-s", f"{w}x{h}", "-r", f"{rate:.4f}",
            "-i", "-", "-c:v", codec, "-threads", "1", "-pix_fmt", fmt, "-fflags", "+bitexact"]
    if codec == "mjpeg":
        args += ["-q:v", str(quality), "-huffman", "default"]
    data = b"".join(p.tobytes() for f in frames for p in f)
    subprocess.run(args + [path], input=data, check=True)


def rgb(frame, full_range):
    """BT.601's codes to 8-bit R, G, B, as viewing software makes them."""
    y, cb, cr = (p.astype(np.float32) for p in frame)
    cb, cr = (np.repeat(p, 2, axis=1) - 128 for p in (cb, cr))
    cb[:, 1:-1:2], cr[:, 1:-1:2] = (cb[:, :-2:2] + cb[:, 2::2]) / 2, (cr[:, :-2:2] + cr[:, 2::2]) / 2
    if full_range:
        parts = y + 1.402 * cr, y - 0.344136 * cb - 0.714136 * cr, y + 1.772 * cb
    else:
        y = 1.164384 * (y - 16)
        parts = y + 1.596027 * cr, y - 0.391762 * cb - 0.812968 * cr, y + 2.017232 * cb
    return np.clip(np.rint(np.stack(parts, axis=2)), 0, 255).astype(np.uint8)


def stills(frames, folder, full_range):
    os.makedirs(folder, exist_ok=True)
    for n, f in enumerate(frames):
        Image.fromarray(rgb(f, full_range)).save(os.path.join(folder, f"{n:03d}.png"), compress_level=3)
