"""Trains the second look: does a mark lie at a place, or a price in pencil, a label, a scratch?

    python3 tools/train/second_look.py --atlas target/train/atlas.npz --out DIR --minutes 4 --seed 1 \\
        --places LOT NAME [--places LOT NAME ...] --watch LOT NAME

Places are those that the tool found on kiln's *fit* renders (`tune --places LOT/NAME --out LOT/NAME.jsonl`), each
there as it was and moved a little; the lot to watch is of *tune*. Half of each step is drawn by the other
renderer, `photograph.py`: marks, and scribbles, labels and empty glaze. Binary cross entropy; the averaged weights
are kept. Needs torch and numpy.
"""

import argparse
import json
import math
import pathlib

import numpy as np
import torch
import torch.nn.functional as F

import canvases
import compose
import ground
import layout
import photograph
from second_look_net import FILL, SIDE, SecondLook, channels, save
from train import Log
from yes_no import seeded, trained

# Places of kiln's a step, of each answer; drawn marks; drawn scribbles, labels and empty glazes.
OF_KILN, DRAWN, NOTHINGS = 128, 96, (48, 32, 16)
PIXELS = 4 * SIDE * SIDE
MARKED = ("known", "unknown", "unknown-sibling")
# A place is a mark's where their middles lie within this share of its radius and their sizes are so near; it is
# none where the circles do not meet. What lies between teaches nothing.
NEAR, ALIKE = 0.5, (0.55, 1.8)


def label(truth: dict, region: dict) -> int | None:
    """1 where a region is the mark's, 0 where nothing is, None where it cannot be said."""
    if truth["kind"] == "bare":
        return 0
    if truth["kind"] not in MARKED or truth["quad"] is None:
        return None
    quads = [truth["quad"], *[s["quad"] for s in truth["second"]]]
    met = 0
    for k, quad in enumerate(quads):
        q = np.array(quad)
        radius = np.hypot(*(q[2] - q[0])) / 2
        away = np.hypot(*(q.mean(0) - np.array(region["centre"])))
        if k == 0 and away < NEAR * radius and ALIKE[0] < region["radius"] / radius < ALIKE[1]:
            return 1
        met += away < radius + region["radius"]
    return None if met else 0


def read(lot: str, name: str):
    """Places (N, copies, PIXELS) u8, labels (N,), and the photo of each (N,) with whether it is bare."""
    folder = pathlib.Path(lot)
    truths = {t["file"]: t for t in map(json.loads, (folder / "truth.jsonl").open())}
    places, labels, photos, bare = [], [], [], []
    for photo in map(json.loads, (folder / f"{name}.jsonl").open()):
        truth, regions = truths[photo["file"]], photo["regions"]
        known = [label(truth, r) for r in regions]
        if all(k is None for k in known):
            continue
        raw = np.fromfile(folder / name / (pathlib.Path(photo["file"]).stem + ".bin"), np.uint8)
        raw = raw.reshape(len(regions), -1, PIXELS)
        for place, k in zip(raw, known):
            if k is not None:
                places.append(place)
                labels.append(k)
                photos.append(len(bare))
        bare.append(truth["kind"] == "bare")
    return torch.from_numpy(np.stack(places)), torch.tensor(labels), torch.tensor(photos), torch.tensor(bare)


def unpacked(raw: torch.Tensor) -> tuple[torch.Tensor, torch.Tensor]:
    """Bytes (N, PIXELS) as sRGB 0..1 (N, 3, SIDE, SIDE) and inside (N, 1, SIDE, SIDE)."""
    rgb = raw[:, : 3 * SIDE * SIDE].reshape(-1, SIDE, SIDE, 3).permute(0, 3, 1, 2).float() / 255
    return rgb, raw[:, 3 * SIDE * SIDE :].reshape(-1, 1, SIDE, SIDE).float() / 255


def developed(rgb: torch.Tensor, inside: torch.Tensor):
    """The same places in other light, turned and mirrored, a little blurred, with another grain."""
    n, device = len(rgb), rgb.device
    def u(low, high, *more):
        return torch.rand(n, *more, device=device) * (high - low) + low
    gain = u(0.7, 1.25, 1, 1, 1) * (1 + 0.08 * torch.randn(n, 3, 1, 1, device=device))
    rgb = ((rgb * gain).clamp(0, 1) ** u(0.75, 1.35, 1, 1, 1))
    soft = F.avg_pool2d(F.pad(rgb, (1, 1, 1, 1), mode="replicate"), 3, 1)
    share = (torch.rand(n, 1, 1, 1, device=device) < 0.4).float() * u(0, 1, 1, 1, 1)
    rgb = rgb + (soft - rgb) * share
    rgb = (rgb + torch.randn_like(rgb) * (0.03 * u(0, 1, 1, 1, 1) ** 3)).clamp(0, 1)
    # One quarter turn for all of a step, a mirror image for half of it.
    quarter = int(torch.randint(4, (1,)))
    rgb, inside = torch.rot90(rgb, quarter, (2, 3)), torch.rot90(inside, quarter, (2, 3))
    half = n // 2
    rgb = torch.cat([rgb[:half].flip(3), rgb[half:]])
    inside = torch.cat([inside[:half].flip(3), inside[half:]])
    return rgb, inside


def framed(take, dice) -> None:
    """Shows a mark's circle as a place does, a little beside it."""
    take.scale = FILL * photograph.MARGIN * (dice.normal() * 0.15).clamp(-0.3, 0.3).exp()
    take.shift = (dice.normal(2) * 0.08).clamp(-0.15, 0.15)


@torch.no_grad()
def marks(atlas, batch, device, generator):
    """Marks as phones photograph them, seen as a place is: colours and inside."""
    table, boxes = batch
    count = len(boxes)
    canvas = compose.draw(atlas, table, count, device)
    dice = photograph.Dice(count, device, generator, SIDE)
    take = photograph.photo(dice, 0.8)
    framed(take, dice)
    return photograph.photograph(atlas, canvas, torch.from_numpy(boxes).to(device), take, dice)


@torch.no_grad()
def nothings(atlas, device, generator):
    """Scribbles in pencil and pen, labels, and empty glaze, with all that lies around marks otherwise."""
    scribbled, labelled, empty = NOTHINGS
    count = sum(NOTHINGS)
    canvas = torch.zeros(count, 1, compose.CANVAS, compose.CANVAS, device=device)
    canvas[:scribbled] = canvases.scribbles(scribbled, device, generator)
    box = torch.full((count, 2), math.sqrt(0.5), device=device)
    dice = photograph.Dice(count, device, generator, SIDE)
    take = photograph.photo(dice, 0.8)
    framed(take, dice)
    nought = torch.zeros_like(take.turn)
    kind = torch.arange(count, device=device)
    first, second = kind < scribbled, (kind >= scribbled) & (kind < scribbled + labelled)
    # Graphite is grey and lets the glaze through; on dark glazes people write in chalk.
    dark = (take.glaze.mean(1) < 0.12)[:, None]
    grey = torch.where(dark, dice.uniform(0.5, 0.9, 1), dice.uniform(0.02, 0.15, 1)).expand(-1, 3)
    take.ink = torch.where(first[:, None], grey * (1 + 0.06 * dice.normal(3)), take.ink)
    take.cover = torch.where(first, dice.uniform(0.2, 0.8), take.cover)
    take.relief, take.gain = nought, nought
    take.sticker = torch.where(second, dice.uniform(0.25, 0.6), nought)
    take.clutter = dice.uniform(0.3, 1.0)
    pencilled, stamped = ground.PENCILLED, ground.SECOND
    ground.PENCILLED, ground.SECOND = 0.5, 0.0
    try:
        return photograph.photograph(atlas, canvas, box, take, dice)
    finally:
        ground.PENCILLED, ground.SECOND = pencilled, stamped


@torch.no_grad()
def report(net, watch, device):
    """The rule of the whole photo: its most mark-like place; bare ones against marked ones."""
    net.eval()
    places, labels, photos, bare = watch
    odds = torch.cat([net(channels(*unpacked(p[:, 0].to(device)))) for p in places.split(256)]).float().cpu()
    best = torch.full((len(bare),), -99.0).scatter_reduce(0, photos, odds, "amax")
    order = odds.argsort()
    ranks = torch.empty(len(order)).scatter_(0, order, torch.arange(1.0, len(order) + 1))
    ones = labels == 1
    n, m = int(ones.sum()), int((~ones).sum())
    area = (ranks[ones].sum() - n * (n + 1) / 2) / (n * m)
    lines = [f"tune: {n} places of marks, {m} of none: area under the curve {area:.4f}"]
    for share in (0.005, 0.01, 0.02, 0.05):
        at = torch.quantile(best[~bare], share)
        kept = (best[bare] < at).float().mean()
        lines.append(f"  {100 * share:.1f} % of the marked photos lie below {at:.2f}, and {100 * kept:.1f} % of {int(bare.sum())} bare ones")
    net.train()
    return lines


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--atlas", required=True)
    parser.add_argument("--out", required=True)
    parser.add_argument("--minutes", type=float, default=4)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--workers", type=int, default=6)
    parser.add_argument("--places", nargs=2, action="append", required=True, metavar=("LOT", "NAME"))
    parser.add_argument("--watch", nargs=2, required=True, metavar=("LOT", "NAME"))
    options = parser.parse_args()
    out = pathlib.Path(options.out)
    out.mkdir(parents=True, exist_ok=True)
    say = Log(out / "second-look-log.txt")
    device = seeded(options.seed)
    file = np.load(options.atlas)
    atlas = compose.Atlas(file, device)
    source = layout.Layouts(layout.Artwork(file, 0), DRAWN, options.seed)
    batches = iter(torch.utils.data.DataLoader(source, batch_size=None, num_workers=options.workers, collate_fn=lambda x: x))
    read_lots = [read(*p) for p in options.places]
    places = torch.cat([r[0] for r in read_lots]).to(device)
    labels = torch.cat([r[1] for r in read_lots]).to(device)
    watch = read(*options.watch)
    members = [(labels == k).nonzero()[:, 0] for k in (1, 0)]
    say(f"{len(members[0])} places of marks, {len(members[1])} of none, {places.shape[1]} copies; watched {len(watch[1])}")
    generator = torch.Generator(device).manual_seed(options.seed)

    def batch():
        pick = torch.cat([m[torch.randint(len(m), (OF_KILN,), device=device)] for m in members])
        copy = torch.randint(places.shape[1], (len(pick),), device=device)
        # Chance decides which of both answers are mirrored.
        pick = pick[torch.randperm(len(pick), device=device)]
        parts = [developed(*unpacked(places[pick, copy]))]
        parts += [marks(atlas, next(batches), device, generator), nothings(atlas, device, generator)]
        known = [torch.full((len(part[0]),), answer, device=device) for part, answer in zip(parts[1:], (1.0, 0.0))]
        return torch.cat([channels(*p) for p in parts]), torch.cat([labels[pick].float(), *known])

    net = trained(SecondLook().to(device), batch, 2 * OF_KILN, options.minutes, say)
    say(f"second-look.bin {save(net, out / 'second-look.bin')} bytes")
    for line in report(net, watch, device):
        say(line)


if __name__ == "__main__":
    main()
