"""Joins two finders into one file: their grids averaged, and the log-odds of their scenes.

    python3 tools/train/finder_pair.py FIRST SECOND OUT --share 0.5 --scene-share 0.6

Both read the same overview, so their answers can be added cell by cell: the second's last convolution is
scaled by the share and adds the first's, scaled by what is left. The file holds both nets and costs
twice the time. Needs numpy and torch.
"""

import argparse
import json
import pathlib

import numpy as np

from finder_net import GRID, SCENES
from net import write


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


def together(one: dict, first, other: dict, second):
    """Two linear layers as one over what both read."""
    out = one["out"]
    sides = [(n[: out * layer["in"]].reshape(out, -1), n[out * layer["in"] :]) for layer, n in ((one, first), (other, second))]
    weights = np.concatenate([w for w, _ in sides], 1)
    layer = {"op": "linear", "from": one["from"] + other["from"], "in": weights.shape[1], "out": out}
    return layer, np.concatenate([weights.ravel(), sides[0][1] + sides[1][1]])


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("first")
    parser.add_argument("second")
    parser.add_argument("out")
    parser.add_argument("--share", type=float, default=0.5, help="of the second in the grid")
    parser.add_argument("--scene-share", type=float, default=0.6, help="of the second in the scene")
    options = parser.parse_args()
    header, first = parts(options.first)
    _, second = parts(options.second)
    grid, (scene, scene_numbers) = grid_of(first), first[-2]
    # Of the first all but what gives its answer.
    first = first[:-2]
    ours = len(first)
    first[grid - 1] = (first[grid - 1][0], first[grid - 1][1] * (1 - options.share))
    theirs = grid_of(second)
    second = [(moved(layer, ours), numbers) for layer, numbers in second]
    layer, numbers = second[theirs - 1]
    second[theirs - 1] = ({**layer, "add": grid}, numbers * options.share)
    layer, numbers = second[-2]
    second[-2] = together(scene, scene_numbers * (1 - options.scene_share), layer, numbers * options.scene_share)
    described = [(layer, [numbers]) for layer, numbers in first + second]
    write(options.out, described, input=header["input"], output=4 * GRID**2 + len(SCENES))


if __name__ == "__main__":
    main()
