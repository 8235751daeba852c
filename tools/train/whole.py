"""Trains the outline's witness: does the photo show an underside, and all of it, whatever it lies on?

    python3 tools/train/whole.py --atlas target/train/atlas.npz --out DIR --minutes 3 --seed 1 \\
        --lots LOT [LOT ...] --watch LOT

Lots are kiln's, of the *fit* split; the one to watch is of *tune*. Their photos are shrunk to a square of which the
photo's longer side fills all but a margin, so that its frame is seen. An underside, marked or not, counts as shown where
its whole base is in the frame; a top, a detail and a paper never do. Half of each step is drawn by the other renderer
(`collage.py`): pieces, with and without marks, on grounds that kiln does not know, whole where their body touches no
border, and tops, papers, packs and heaps of things. The net, and what it reads, are the second look's
(`second_look_net.py`). Binary cross entropy; the averaged weights are kept. Needs torch, torchvision and numpy.
"""

import argparse
import concurrent.futures
import json
import pathlib
import random

import numpy as np
import torch
import torch.nn.functional as F
import torchvision.io

from collage import KINDS, SIZES, Collage
from second_look import developed
from second_look_net import SIDE, SecondLook, channels, save
from train import Log
from yes_no import seeded, trained

WITHIN = 116  # pixels of the square that the photo's longer side fills; src/underside/whole.rs
# Of kiln's a step: whole bases, cut ones, and what is no underside.
OF_KILN = {"whole": 96, "cut": 56, "other": 56}
# Drawn ones kept of each kind, taken in a step, and drawn anew at a time.
KEPT, OF_DRAWN, TOGETHER = 1024, {
    "piece": 32, "bare": 64, "close": 8, "bare-close": 16, "top": 24, "top-close": 8, "paper": 8, "box": 8, "things": 8}, 32
MARKS = 1024
UNDERSIDES = ("known", "unknown", "unknown-sibling", "bare")
OTHER = KINDS["top"]


class Bases(Collage):
    """Collages that tell whether a body touches the border of its picture."""

    def bases(self, kind: str, count: int, size: tuple[int, int]):
        """Squares (N, 4, SIDE, SIDE), colours and inside, and whether the base is whole (N,)."""
        self.touches = torch.ones(count, dtype=torch.bool, device=self.device)
        picture, _, _ = self.draw(kind, count, size)
        return squared(picture), (~self.touches).float() * (KINDS[kind] != OTHER)

    def _piece_on(self, dice, around, body, cover, away):
        inside = away[:, 0] < 0
        self.touches = inside[:, [0, -1]].any(2).any(1) | inside[:, :, [0, -1]].any(2).any(1)
        return super()._piece_on(dice, around, body, cover, away)


def squared(pictures: torch.Tensor) -> torch.Tensor:
    """Pictures (N, 3, H, W) in the middle of squares (N, 4, SIDE, SIDE), and 1 where they are."""
    h, w = pictures.shape[2:]
    k = WITHIN / max(h, w)
    small = F.interpolate(pictures, [round(h * k), round(w * k)], mode="bilinear", antialias=True)
    small = torch.cat([small, torch.ones_like(small[:, :1])], 1)
    h, w = small.shape[2:]
    top, left = (SIDE - h) // 2, (SIDE - w) // 2
    return F.pad(small, (left, SIDE - w - left, top, SIDE - h - top))


def shrunk(file: pathlib.Path) -> torch.Tensor:
    """A photo in the middle of a square, colours and inside, a byte each (4, SIDE, SIDE)."""
    photo = torchvision.io.decode_jpeg(torchvision.io.read_file(str(file)))
    return (squared(photo[None].float() / 255)[0].clamp(0, 1) * 255).round().byte()


def read(lots, workers: int):
    """Squares (N, 4, SIDE, SIDE) u8, and of each group of `OF_KILN` which of them belong to it (N,)."""
    files, group = [], []
    for lot in map(pathlib.Path, lots):
        for truth in map(json.loads, (lot / "truth.jsonl").open()):
            files.append(lot / "photos" / truth["file"])
            whole = "whole" if truth["attributes"]["whole_base"] else "cut"
            group.append(whole if truth["kind"] in UNDERSIDES else "other")
    with concurrent.futures.ThreadPoolExecutor(workers) as pool:
        squares = torch.stack(list(pool.map(shrunk, files)))
    return squares, {name: torch.tensor([g == name for g in group]) for name in OF_KILN}


def unpacked(raw: torch.Tensor):
    """Bytes (N, 4, SIDE, SIDE) as colours 0..1 (N, 3, SIDE, SIDE) and inside (N, 1, SIDE, SIDE)."""
    planes = raw.float() / 255
    return planes[:, :3], planes[:, 3:]


@torch.no_grad()
def report(net, watch, device):
    """Of tune: how many whole bases are kept where so many cut ones and others pass for whole."""
    net.eval()
    squares, groups = watch
    odds = torch.cat([net(channels(*unpacked(s.to(device)))) for s in squares.split(256)]).float().cpu()
    lines = ["tune: " + ", ".join(f"{some.sum()} {name}" for name, some in groups.items())]
    for at in (-2.0, -1.0, 0.0, 1.0, 2.0, 3.0):
        above = [f"{100 * (odds[some] > at).float().mean():5.1f} % {name}" for name, some in groups.items()]
        lines.append(f"  above {at:4.1f}: " + ", ".join(above))
    net.train()
    return lines


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--atlas", required=True)
    parser.add_argument("--out", required=True)
    parser.add_argument("--minutes", type=float, default=3)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--workers", type=int, default=8)
    parser.add_argument("--lots", nargs="+", required=True)
    parser.add_argument("--watch", required=True)
    options = parser.parse_args()
    out = pathlib.Path(options.out)
    out.mkdir(parents=True, exist_ok=True)
    say = Log(out / "whole-log.txt")
    device = seeded(options.seed)
    watch = read([options.watch], options.workers)
    squares, groups = read(options.lots, options.workers)
    squares = squares.to(device)
    members = {name: some.nonzero()[:, 0].to(device) for name, some in groups.items()}
    whole = groups["whole"].float().to(device)
    say(", ".join(f"{len(some)} {name}" for name, some in members.items()) + f"; watched {len(watch[0])}")
    collage = Bases(np.load(options.atlas), 0, MARKS, options.seed, device)
    kept = {kind: [] for kind in OF_DRAWN}

    def renew(kind):
        kept[kind].append(collage.bases(kind, TOGETHER, random.choice(SIZES)))
        del kept[kind][: -KEPT // TOGETHER]

    def batch():
        for kind in OF_DRAWN if len(kept["piece"]) < KEPT // TOGETHER else [random.choice(list(OF_DRAWN))]:
            renew(kind)
        pick = torch.cat([m[torch.randint(len(m), (OF_KILN[name],), device=device)] for name, m in members.items()])
        # Chance decides which of the answers are mirrored.
        pick = pick[torch.randperm(len(pick), device=device)]
        views, targets = [unpacked(squares[pick])], [whole[pick]]
        for kind, count in OF_DRAWN.items():
            drawn = [random.choice(kept[kind]) for _ in range(count // 8)]
            at = torch.randperm(TOGETHER, device=device)[:8]
            both = torch.cat([d[0][at] for d in drawn])
            views.append((both[:, :3], both[:, 3:]))
            targets.append(torch.cat([d[1][at] for d in drawn]))
        return torch.cat([channels(*developed(*v)) for v in views]), torch.cat(targets)

    net = trained(SecondLook().to(device), batch, sum(OF_KILN.values()), options.minutes, say)
    say(f"whole.bin {save(net, out / 'whole.bin')} bytes")
    for line in report(net, watch, device):
        say(line)


if __name__ == "__main__":
    main()
