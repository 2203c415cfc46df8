"""Fields to frames, and frames to files as devices and their software keep them."""
import os
import subprocess

import numpy as np
from PIL import Image


def weave(first, second, t):
    """Two fields in a frame: luma, and colour difference at half width. `swap` has the earlier one on the lower lines."""
    if t["cut"]:
        second = [np.vstack([p[1:], p[-1:]]) for p in second]
    out = []
    for a, b in zip(first, second):
        if t["swap"]:
            a, b = b, a
        p = np.empty((2 * a.shape[0], a.shape[1]), np.float32)
        p[0::2], p[1::2] = a, b
        out.append(p)
    if t["drop_line"]:  # a scaler that leaves a pair of lines out
        k = out[0].shape[0] * 5 // 9 // 2 * 2
        out = [np.vstack([p[:k], p[k + 2:], p[-2:]]) for p in out]
    return [np.clip(np.round(p), 1, 254).astype(np.uint8) for p in out]


def rgb(frame, full):
    """What a capture program makes of the codes for a still."""
    y, cb, cr = (p.astype(np.float32) for p in frame)
    cb, cr = (np.repeat(p, 2, 1) - 128 for p in (cb, cr))
    if not full:
        y, cb, cr = (y - 16) * (255 / 219), cb * (255 / 224), cr * (255 / 224)
    out = np.stack([y + 1.402 * cr, y - 0.344136 * cb - 0.714136 * cr, y + 1.772 * cb], -1)
    return np.clip(np.round(out), 0, 255).astype(np.uint8)


def stills(path, frames, full):
    os.makedirs(path, exist_ok=True)
    for i, f in enumerate(frames):
        Image.fromarray(rgb(f, full)).save(f"{path}/still{i:02d}.png", compress_level=4)


def video(path, frames, rate, codec, quality, full, half):
    """Through ffmpeg; `half` has colour on every second line only (4:2:0)."""
    h, w = frames[0][0].shape
    layout = ("yuvj" if full and codec == "mjpeg" else "yuv") + ("420p" if half else "422p")
    data = bytearray()
    for y, cb, cr in frames:
        if half:
            cb, cr = (((p[0::2].astype(np.uint16) + p[1::2] + 1) // 2).astype(np.uint8) for p in (cb, cr))
        data += y.tobytes() + cb.tobytes() + cr.tobytes()
    options = ["-q:v", str(quality), "-strict", "-1"] if codec == "mjpeg" else []
    subprocess.run(["ffmpeg", "-v", "error", "-y", "-f", "rawvideo", "-pix_fmt", layout, "-s", f"{w}x{h}", "-r", rate, "-i", "-", "-threads", "1",
                    "-c:v", codec, *options, "-pix_fmt", layout, "-bitexact", path], input=bytes(data), check=True)


def save(folder, key, frames, how, hz, full):
    """One capture in the way `how` says; returns the file's name."""
    if how["as"] == "png":
        if how.get("single"):
            Image.fromarray(rgb(frames[0], full)).save(f"{folder}/{key}.png", compress_level=4)
            return f"{key}.png"
        stills(f"{folder}/{key}", frames, full)
        return key
    name = f"{key}.{'mkv' if how['as'] == 'ffv1' else 'avi'}"
    video(f"{folder}/{name}", frames, "25" if hz == 50 else "30000/1001", how["as"], how.get("q", 3), full, how.get("half", False))
    return name
