"""Writes squares of a tune lot and what the outline's witness says of them as plain bytes for the tests of the tool.

    python3 tools/train/whole_probe.py LOT src/weights/whole.bin tests/data/whole-probe.bin

Of each of four photos: sRGB bytes, inside (a byte a pixel), then the log-odds as a little-endian float. Needs torch and
torchvision.
"""

import pathlib
import sys

from second_look_probe import probe
from whole import shrunk

out = b""
for file in sorted(pathlib.Path(sys.argv[1]).joinpath("photos").glob("*.jpg"))[:4]:
    square = shrunk(file)
    raw = square[:3].permute(1, 2, 0).numpy().tobytes() + square[3].numpy().tobytes()
    out += probe(raw, sys.argv[2])
pathlib.Path(sys.argv[3]).write_bytes(out)
