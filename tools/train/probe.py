"""Writes the first crops of a training run's probe.npz as plain bytes for the tests of the tool.

    python3 tools/train/probe.py target/train/out/probe.npz tests/data/imprint-probe.bin

A crop: 160 x 160 x 3 bytes sRGB; then inside (0 or 1), ink (of 255) and validity (0 or 1), a byte a
pixel; then 128 little-endian floats. Needs numpy.
"""
import sys

import numpy as np

CROPS = 6

probe = np.load(sys.argv[1])
with open(sys.argv[2], "wb") as out:
    for i in range(CROPS):
        ink, valid = probe["maps"][i]
        out.write(probe["rgb"][i].astype(np.uint8).tobytes())
        out.write((probe["inside"][i] > 0).astype(np.uint8).tobytes())
        out.write(np.round(ink * 255).astype(np.uint8).tobytes())
        out.write((valid > 0.5).astype(np.uint8).tobytes())
        out.write(probe["vectors"][i].astype("<f4").tobytes())
