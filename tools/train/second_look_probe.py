"""Writes places of a tune lot and what the second look says of them as plain bytes for the tests of the tool.

    python3 tools/train/second_look_probe.py LOT PLACES src/weights/second-look.bin tests/data/second-look-probe.bin

PLACES is the folder that `tune --places` wrote. Of each of four photos the first place: sRGB bytes, inside (a byte
a pixel), then the log-odds as a little-endian float.
"""

import pathlib
import sys

import numpy as np
import torch

import net
from second_look_net import SIDE, channels

PIXELS = SIDE * SIDE


def probe(raw: bytes, weights) -> bytes:
    """A square as it is read, with what the net of these weights says of it."""
    rgb = np.frombuffer(raw[: 3 * PIXELS], np.uint8).reshape(SIDE, SIDE, 3)
    inside = np.frombuffer(raw[3 * PIXELS :], np.uint8).reshape(1, SIDE, SIDE)
    seen = channels(torch.tensor(rgb).permute(2, 0, 1)[None] / 255, torch.tensor(inside)[None] / 255)
    return raw + np.float32(net.run(weights, seen)[0, 0].item()).astype("<f4").tobytes()


if __name__ == "__main__":
    files = sorted(pathlib.Path(sys.argv[1]).joinpath(sys.argv[2]).glob("*.bin"))[:4]
    out = b"".join(probe(file.read_bytes()[: 4 * PIXELS], sys.argv[3]) for file in files)
    pathlib.Path(sys.argv[4]).write_bytes(out)
