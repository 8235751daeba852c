"""Writes one photo's overview and what the finder says of it as plain bytes for the tests of the tool.

    python3 tools/train/finder_probe.py PHOTO src/weights/finder.bin tests/data/finder-probe.bin

PHOTO is a picture, or a former probe, whose shrunk photo is kept.

Width and height of the shrunk photo (little-endian 32 bits each); its sRGB bytes; the light and the
chroma map, a byte a pixel (of 255); then 4 x 40 x 40 little-endian floats and three of the scene. Needs torch and Pillow.
"""
import struct
import sys

import numpy as np
import torch
from PIL import Image

import net
from overview import SIDE, overview

if sys.argv[1].endswith(".bin"):
    with open(sys.argv[1], "rb") as former:
        width, height = struct.unpack("<II", former.read(8))
        small = Image.frombytes("RGB", (width, height), former.read(3 * width * height))
else:
    photo = Image.open(sys.argv[1]).convert("RGB")
    k = SIDE / max(photo.size)
    small = photo.resize((round(photo.width * k), round(photo.height * k)), Image.Resampling.HAMMING)
rgb = np.asarray(small)
maps = overview(torch.from_numpy(rgb.copy()).permute(2, 0, 1)[None].float() / 255)[0]
answer = net.run(sys.argv[2], maps[None])[0]
with open(sys.argv[3], "wb") as out:
    out.write(struct.pack("<II", *small.size) + rgb.tobytes())
    for plane in maps[:2, : small.height, : small.width]:
        out.write(np.round(plane.numpy() * 255).astype(np.uint8).tobytes())
    out.write(answer.numpy().astype("<f4").tobytes())
