"""Checks what training and the shipped tool must agree on; exits 1 where they do not.

    python3 tools/train/check.py [--atlas target/train/atlas.npz]

1. The two ink maps (torch, numpy) agree on photographed marks of every condition.
2. The folded network read back from its file gives the vectors of the trained one.
"""

import argparse
import pathlib
import sys
import tempfile

import numpy as np
import torch

import evaluate
import compose
import inkmap
import net as network
import photograph

ROOT = pathlib.Path(__file__).resolve().parents[2]
# Single precision against double, seen through a steep scale: a grey level of 8 bits is 0.004.
MOST_OFF = 0.01
# A pixel whose validity flips costs more than any rounding: none may.
LEAST_COSINE = 0.999


def maps_agree(bench: evaluate.Bench) -> bool:
    good = True
    for number, kind in enumerate(("scan", "photo", *photograph.CONDITIONS)):
        rgb, inside = next(bench.crops(kind, number))
        ours = inkmap.ink_map(rgb, inside).cpu().numpy()
        worst = 0.0
        for i in range(len(rgb)):
            crop = rgb[i].permute(1, 2, 0).cpu().numpy()
            twin = inkmap.ink_map_numpy(crop, inside[i, 0].cpu().numpy() > 0)
            worst = max(worst, float(np.abs(ours[i] - twin).max()))
        good &= worst <= MOST_OFF
        print(f"ink map, {kind:14s} largest difference {worst:.5f}")
    return good


def net_agrees(bench: evaluate.Bench) -> bool:
    net = network.Net()
    rgb, inside = next(bench.crops("photo", 3))
    maps = inkmap.ink_map(rgb, inside).cpu()
    with torch.no_grad():
        for _ in range(3):  # batch-norm statistics away from their start
            net(maps)
        for module in net.modules():
            if isinstance(module, torch.nn.BatchNorm2d):
                module.weight.uniform_(0.5, 1.5)
                module.bias.normal_(0, 0.1)
        net.eval()
        with tempfile.TemporaryDirectory() as folder:
            path = pathlib.Path(folder) / "weights.bin"
            network.save(net, path)
            cosine = torch.nn.functional.cosine_similarity(network.run(path, maps), net(maps)).min().item()
    weights, work = network.cost(net)
    print(f"net: {weights} weights, {work / 1e6:.1f} M multiply-adds, folded cosine {cosine:.6f}")
    return cosine >= LEAST_COSINE


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--atlas", default=str(ROOT / "target/train/atlas.npz"))
    options = parser.parse_args()
    file = np.load(options.atlas)
    torch.manual_seed(1)
    bench = evaluate.Bench(file, compose.Atlas(file, torch.device("cpu")), torch.device("cpu"), 8)
    results = [maps_agree(bench), net_agrees(bench)]
    sys.exit(0 if all(results) else 1)


if __name__ == "__main__":
    main()
