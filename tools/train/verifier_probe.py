"""Turns verifier-probe.npz into tests/data/verifier-probe.bin: per pair four maps of one byte a pixel, then
the log-odds as a little-endian float.

    python3 tools/train/verifier_probe.py target/train/out/verifier-probe.npz
"""

import pathlib
import sys

import numpy as np

COUNT = 4

file = np.load(sys.argv[1])
out = pathlib.Path(__file__).resolve().parents[2] / "tests" / "data" / "verifier-probe.bin"
pairs = zip(file["maps"][:COUNT], file["odds"][:COUNT].astype("<f4"))
out.write_bytes(b"".join(maps.tobytes() + odds.tobytes() for maps, odds in pairs))
