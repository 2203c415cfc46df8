"""Frames to files: MJPEG with its own qualities, HuffYUV, FFV1, H.264 and PNG stills, at times with a sound track."""
import io
import os
import subprocess

import numpy as np
from PIL import Image


def weave(first, second, bottom_first):
    """Two fields' planes, the earlier one first, into a frame's."""
    pairs = zip(second, first) if bottom_first else zip(first, second)
    return [np.stack(p, 1).reshape(2 * len(p[0]), -1) for p in pairs]


def blended(frame):
    """A device that mixes each line with its neighbours to hide the weave."""
    out = []
    for p in frame:
        q = p.astype(np.uint16)
        up, down = np.concatenate([q[:1], q[:-1]]), np.concatenate([q[1:], q[-1:]])
        out.append(((up + 2 * q + down + 2) >> 2).astype(np.uint8))
    return out


def bobbed(field, lower):
    """A field as a frame of its own: the lines between are the middle of their neighbours."""
    out = []
    for p in field:
        q = p.astype(np.uint16)
        f = np.empty((2 * len(p), p.shape[1]), np.uint8)
        near = np.concatenate([q[:1], q[:-1]]) if lower else np.concatenate([q[1:], q[-1:]])
        f[1 if lower else 0::2] = p
        f[0 if lower else 1::2] = (q + near + 1) >> 1
        out.append(f)
    return out


def rgb(frame, full):
    y, cb, cr = [np.asarray(q, np.float32) for q in frame]
    cb, cr = cb.repeat(2, 1)[:, :y.shape[1]] - 128, cr.repeat(2, 1)[:, :y.shape[1]] - 128
    k, o, c = (1, 0, 1) if full else (255 / 219, 16, 255 / 224)
    y, cb, cr = (y - o) * k, cb * c, cr * c
    a = np.stack([y + 1.402 * cr, y - .344136 * cb - .714136 * cr, y + 1.772 * cb], -1)
    return np.clip(np.round(a), 0, 255).astype(np.uint8)


def jpeg(frame, quality, sampling):
    y, cb, cr = frame
    planes = [Image.fromarray(y), Image.fromarray(cb.repeat(2, 1)), Image.fromarray(cr.repeat(2, 1))]
    b = io.BytesIO()
    Image.merge("YCbCr", planes).save(b, "JPEG", quality=quality, subsampling=sampling)
    return b.getvalue()


def video(path, frames, rate, how, made, seconds):
    """how: mjpeg, huffyuv, ffv1, h264-field, h264-frame. Codes go in as they are, whatever their range."""
    h, w = frames[0][0].shape
    cmd = ["ffmpeg", "-v", "error", "-nostdin", "-y", "-threads", "1"]
    if how == "mjpeg":
        data = b"".join(jpeg(f, made["quality"], made["sampling"]) for f in frames)
        cmd += ["-f", "image2pipe", "-c:v", "mjpeg", "-framerate", rate, "-i", "-"]
        out = ["-c:v", "copy"]
    else:
        data = b"".join(q.tobytes() for f in frames for q in f)
        cmd += ["-f", "rawvideo", "-pix_fmt", "yuv422p", "-s", f"{w}x{h}", "-r", rate, "-i", "-"]
        out = {"huffyuv": ["-c:v", "huffyuv"], "ffv1": ["-c:v", "ffv1", "-level", "3"],
               "h264-field": ["-vf", "scale=interl=1", "-c:v", "libx264", "-pix_fmt", "yuv420p", "-flags", "+ilme+ildct", "-x264-params",
                              f"{'bff' if made.get('bottom_first') else 'tff'}=1:threads=1"],
               "h264-frame": ["-c:v", "libx264", "-pix_fmt", "yuv420p", "-x264-params", "threads=1"]}[how]
        if how.startswith("h264"):
            out += ["-preset", "veryfast", "-crf", str(made["crf"])]
    if made.get("sound"):
        cmd += ["-f", "lavfi", "-i", f"sine=frequency=440:sample_rate=48000:duration={seconds:.3f}"]
        out += ["-c:a", "aac" if path.endswith("mp4") else "pcm_s16le"]
    subprocess.run(cmd + out + ["-threads", "1", "-bitexact", path], input=data, check=True)


def stills(folder, frames, full):
    os.makedirs(folder, exist_ok=True)
    for i, f in enumerate(frames):
        Image.fromarray(rgb(f, full)).save(os.path.join(folder, f"{i:03d}.png"), compress_level=1)


def still(path, frame, full):
    Image.fromarray(rgb(frame, full)).save(path, compress_level=1)
