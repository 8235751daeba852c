"""Trains the outline's witness: is all of a base in the frame, whatever it lies on?

    python3 tools/train/whole.py --atlas target/train/atlas.npz --out DIR --minutes 3 --seed 1 \\
        --lots LOT [LOT ...] --watch LOT

Lots are kiln's, of the *fit* split; the one to watch is of *tune*. Their undersides, marked or not, are shrunk to a
square of which the photo's longer side fills all but a margin, so that its frame is seen. Half of each step is drawn by
the other renderer (`collage.py`): pieces, with and without marks, on grounds that kiln does not know; such a one is
whole where its body touches no border. The net, and what it reads, are the second look's (`second_look_net.py`). Binary
cross entropy; the averaged weights are kept. Needs torch, torchvision and numpy.
"""

import argparse
import concurrent.futures
import json
import math
import pathlib
import random
import time

import numpy as np
import torch
import torch.nn.functional as F
import torchvision.io

from collage import SIZES, Collage
from second_look import developed
from second_look_net import SIDE, SecondLook, channels, save
from train import Average, Log

PEAK_RATE, DECAY, WARM_STEPS = 2e-3, 0.03, 200
WITHIN = 116  # pixels of the square that the photo's longer side fills; src/underside/whole.rs
OF_KILN = 96  # a step, of each answer
# Drawn ones kept of each kind, taken in a step, and drawn anew at a time.
KEPT, OF_DRAWN, TOGETHER = 1024, {"piece": 40, "bare": 56, "close": 16, "bare-close": 16}, 32
MARKS = 1024
UNDERSIDES = ("known", "unknown", "unknown-sibling", "bare")


class Bases(Collage):
    """Collages that tell whether a body touches the border of its picture."""

    def bases(self, kind: str, count: int, size: tuple[int, int]):
        """Squares (N, 4, SIDE, SIDE), colours and inside, and whether the base is whole (N,)."""
        self.touches = torch.ones(count, dtype=torch.bool, device=self.device)
        picture, _, _ = self.draw(kind, count, size)
        return squared(picture), (~self.touches).float()

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
    """Squares (N, 4, SIDE, SIDE) u8, whether whole (N,) and whether bare (N,)."""
    files, whole, bare = [], [], []
    for lot in map(pathlib.Path, lots):
        for truth in map(json.loads, (lot / "truth.jsonl").open()):
            if truth["kind"] in UNDERSIDES:
                files.append(lot / "photos" / truth["file"])
                whole.append(truth["attributes"]["whole_base"])
                bare.append(truth["kind"] == "bare")
    with concurrent.futures.ThreadPoolExecutor(workers) as pool:
        squares = torch.stack(list(pool.map(shrunk, files)))
    return squares, torch.tensor(whole), torch.tensor(bare)


def unpacked(raw: torch.Tensor):
    """Bytes (N, 4, SIDE, SIDE) as colours 0..1 (N, 3, SIDE, SIDE) and inside (N, 1, SIDE, SIDE)."""
    planes = raw.float() / 255
    return planes[:, :3], planes[:, 3:]


@torch.no_grad()
def report(net, watch, device):
    """Of the bare bases of tune: how many whole ones are kept where so many cut ones pass for whole."""
    net.eval()
    squares, whole, bare = watch
    odds = torch.cat([net(channels(*unpacked(s.to(device)))) for s in squares.split(256)]).float().cpu()
    lines = []
    for name, some in (("bare", bare), ("all", torch.ones_like(bare))):
        yes, no = odds[whole & some], odds[~whole & some]
        lines.append(f"tune, {name}: {len(yes)} whole, {len(no)} cut")
        for at in (-2.0, -1.0, 0.0, 1.0, 2.0, 3.0):
            lines.append(f"  above {at:4.1f}: {100 * (yes > at).float().mean():5.1f} % of the whole, {100 * (no > at).float().mean():5.1f} % of the cut")
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
    torch.manual_seed(options.seed)
    random.seed(options.seed)
    watch = read([options.watch], options.workers)
    squares, whole, _ = read(options.lots, options.workers)
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    squares = squares.to(device)
    members = [(whole == k).nonzero()[:, 0].to(device) for k in (True, False)]
    say(f"{len(members[0])} whole bases, {len(members[1])} cut ones; watched {len(watch[1])}")
    collage = Bases(np.load(options.atlas), 0, MARKS, options.seed, device)
    kept = {kind: [] for kind in OF_DRAWN}

    def renew(kind):
        kept[kind].append(collage.bases(kind, TOGETHER, random.choice(SIZES)))
        del kept[kind][: -KEPT // TOGETHER]

    net = SecondLook().to(device)
    average = Average(net)
    optimiser = torch.optim.AdamW(net.parameters(), PEAK_RATE, weight_decay=DECAY)
    begin, spoken, step = time.time(), 0.0, 0
    while (passed := (time.time() - begin) / 60) < options.minutes:
        part = passed / options.minutes
        for group in optimiser.param_groups:
            group["lr"] = PEAK_RATE * min(1, (step + 1) / WARM_STEPS) * (0.5 + 0.5 * math.cos(math.pi * part)) + 1e-6
        with torch.no_grad():
            for kind in OF_DRAWN if len(kept["piece"]) < KEPT // TOGETHER else [random.choice(list(OF_DRAWN))]:
                renew(kind)
            pick = torch.cat([m[torch.randint(len(m), (OF_KILN,), device=device)] for m in members])
            pick = pick[torch.randperm(len(pick), device=device)]
            views, targets = [unpacked(squares[pick])], [whole.to(device)[pick].float()]
            for kind, count in OF_DRAWN.items():
                drawn = [random.choice(kept[kind]) for _ in range(count // 8)]
                at = torch.randperm(TOGETHER, device=device)[:8]
                both = torch.cat([d[0][at] for d in drawn])
                views.append((both[:, :3], both[:, 3:]))
                targets.append(torch.cat([d[1][at] for d in drawn]))
            seen = torch.cat([channels(*developed(*v)) for v in views])
            target = torch.cat(targets)
        with torch.autocast(device.type, torch.bfloat16, enabled=device.type == "cuda"):
            odds = net(seen)
        loss = F.binary_cross_entropy_with_logits(odds, target * 0.98 + 0.01)
        optimiser.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(net.parameters(), 5.0)
        optimiser.step()
        average.update(step)
        step += 1
        if passed - spoken > 0.5:
            spoken = passed
            wrong = ((odds > 0) != (target > 0.5)).float()
            split = [wrong[: 2 * OF_KILN].mean(), wrong[2 * OF_KILN :].mean(), target[2 * OF_KILN :].mean()]
            say(f"{passed:5.2f} min  step {step:6d}  loss {loss.item():.4f}  wrong kiln {split[0]:.3f}  drawn {split[1]:.3f} (whole {split[2]:.2f})")
    final = average.net.eval()
    size = save(final, out / "whole.bin")
    say(f"{step} steps; whole.bin {size} bytes")
    for line in report(final, watch, device):
        say(line)


if __name__ == "__main__":
    main()
