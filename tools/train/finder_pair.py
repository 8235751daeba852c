"""Joins two finders into one file: their grids averaged, the scene from the second alone.

    python3 tools/train/finder_pair.py FIRST SECOND OUT --share 0.5

Both read the same overview, so their answers can be added cell by cell: the second's last convolution is
scaled by the share and adds the first's, scaled by what is left. The file holds both nets and costs
twice the time. Needs numpy and torch.
"""

import argparse
import json
import pathlib

import numpy as np

from finder_net import GRID, SCENES


def parts(path):
    """Layers with their numbers."""
    raw = pathlib.Path(path).read_bytes()
    end = raw.index(b"\n")
    header = json.loads(raw[:end])
    numbers, at, out = np.frombuffer(raw[end + 1 :], "<f2").astype(np.float32), 0, []
    for layer in header["layers"]:
        count = 0
        if layer["op"] == "conv":
            count = layer["cout"] * (layer["cin"] * layer["k"] ** 2 + 1)
        elif layer["op"] == "linear":
            count = layer["out"] * (layer["in"] + 1)
        out.append((layer, numbers[at : at + count]))
        at += count
    return header, out


def grid_of(layers) -> int:
    """Tensor that holds the grid: the first thing the last layer joins."""
    last = layers[-1][0]
    return last["from"][0] if last["op"] == "join" else len(layers)


def moved(layer: dict, by: int) -> dict:
    """The layer with its tensors renumbered; the input stays the input."""
    shift = lambda t: t + by if t else 0  # noqa: E731
    new = dict(layer)
    new["from"] = [shift(t) for t in layer["from"]] if isinstance(layer["from"], list) else shift(layer["from"])
    if layer.get("add") is not None:
        new["add"] = shift(layer["add"])
    return new


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("first")
    parser.add_argument("second")
    parser.add_argument("out")
    parser.add_argument("--share", type=float, default=0.5, help="of the second")
    options = parser.parse_args()
    header, first = parts(options.first)
    _, second = parts(options.second)
    # Of the first only what leads to its grid.
    ours = grid_of(first)
    first = first[:ours]
    first[-1] = (first[-1][0], first[-1][1] * (1 - options.share))
    theirs = grid_of(second)
    second = [(moved(layer, ours), numbers) for layer, numbers in second]
    layer, numbers = second[theirs - 1]
    second[theirs - 1] = ({**layer, "add": ours}, numbers * options.share)
    layers = first + second
    header = {**header, "output": 4 * GRID**2 + len(SCENES), "layers": [layer for layer, _ in layers]}
    text = json.dumps(header, separators=(",", ":")).encode() + b"\n"
    data = np.concatenate([numbers for _, numbers in layers]).astype("<f2").tobytes()
    pathlib.Path(options.out).write_bytes(text + data)


if __name__ == "__main__":
    main()
