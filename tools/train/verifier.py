"""Trains the verifier: whether a photographed mark, laid over an exemplar, is that mark or a near one.

    python3 tools/train/verifier.py --atlas target/train/atlas.npz --out DIR --minutes 8 --seed 1

Marks come in groups of four, mostly siblings that differ in one line of text or in one letter. Each is
photographed once as a photo and once as a library's picture (a clean scan or an ordinary photo). The ink
map of each library picture is laid over each photo's of its group by the map that is known here, moved by
the small errors that an alignment leaves; so siblings lie over one another as they would in the tool. A
small net reads both maps, ink and validity, and gives the log-odds that they show one mark. Loss: binary
cross-entropy over all pairs, and cross-entropy over the four candidates of each photo.

With --met LOT PROTOCOL (may be given again), a part of each step are pairs that the tool itself laid over
one another, on kiln's *fit* renders: LOT/truth.jsonl, LOT/PROTOCOL.jsonl and the folder LOT/PROTOCOL of
`tune --pairs`. So the net also meets the alignments that the tool makes, right ones and wrong ones.

With --resume FILE the training goes on from folded weights, at a lower rate.

Runs on every accelerator of the machine, one process each. Writes verifier-log.txt, verifier.bin (format
of net.py) and verifier-probe.npz (some pairs with their log-odds).
"""

import argparse
import math
import pathlib
import time

import numpy as np
import torch
import torch.nn.functional as F
from torch import nn

import torch.distributed as dist
import torch.multiprocessing as mp

import compose
import layout
import photograph
from inkmap import ink_map
from met import Met
from net import Block, Conv, folded, pooled, restore, write
from train import Average, Log

SIDE = 224
WIDTHS = (16, 28, 56, 112)
HIDDEN = 48
GROUP = layout.GROUP
PEAK_RATE = 2e-3
DECAY = 0.03
WARM_STEPS = 150
# Weight of the choice among the four beside the yes or no on each.
CHOICE = 0.5
# Errors of an alignment: shift in pixels, turn in radians, stretch, and what a curved base leaves.
SHIFT, TURN, STRETCH, BEND = 0.9, 0.006, 0.008, 0.9
ORDINARY = 0.45
# Share of photos in a step that the tool laid itself, where there are any.
MET = 0.5
# Of the first rate, where a net is taken up again.
RESUMED = 0.4
PROBES = 6
EVAL_SEED = 70_001
CONDITIONS = ("good", "weak", "blur", "tilt", "glare", "partial", "smudge", "lowlight", "small", "impressed", "light-on-dark")


class Verifier(nn.Module):
    """Maps (N, 4, SIDE, SIDE): photo's ink and validity, exemplar's; to log-odds (N,)."""

    def __init__(self):
        super().__init__()
        w = WIDTHS
        self.stem = Conv(4, w[0], 5, 2)
        self.down2 = Conv(w[0], w[1], 3, 2)
        self.down3 = nn.Sequential(Conv(w[1], w[2], 3, 2), Block(w[2]), Block(w[2]), Block(w[2]))
        self.down4 = nn.Sequential(Conv(w[2], w[3], 3, 2), Block(w[3]), Block(w[3]))
        self.hidden = nn.Linear(w[2] + w[3], HIDDEN)
        self.last = nn.Linear(HIDDEN, 1)

    def forward(self, x):
        x3 = self.down3(self.down2(self.stem(x)))
        x4 = self.down4(x3)
        with torch.autocast(x.device.type, enabled=False):
            both = torch.cat([pooled(x3.float()), pooled(x4.float())], 1)
            return self.last(F.relu(self.hidden(both)))[:, 0]


def describe(net: Verifier):
    """Header entries and numbers of the folded net, in the format of net.py."""
    out = []

    def conv(weight, bias, stride, source, relu=True, add=None):
        cout, cin, k, _ = weight.shape
        out.append(({"op": "conv", "from": source, "cin": cin, "cout": cout, "k": k, "stride": stride,
                     "pad": k // 2, "relu": relu, "add": add}, [weight, bias]))
        return len(out)

    def folded_conv(module, source, relu=True, add=None):
        return conv(*folded(module), module.conv.stride[0], source, relu, add)

    def stage(modules, at):
        for m in modules:
            if isinstance(m, Block):
                inner = folded_conv(m.middle, folded_conv(m.narrow, at))
                at = folded_conv(m.wide, inner, True, at)
            else:
                at = folded_conv(m, at)
        return at

    def other(entry):
        out.append((entry, []))
        return len(out)

    x3 = stage(net.down3, folded_conv(net.down2, folded_conv(net.stem, 0)))
    x4 = stage(net.down4, x3)
    pools = [other({"op": "gem", "from": x, "p": 3.0}) for x in (x3, x4)]
    both = other({"op": "join", "from": pools})
    hidden = conv(net.hidden.weight[:, :, None, None], net.hidden.bias, 1, both)
    conv(net.last.weight[:, :, None, None], net.last.bias, 1, hidden, relu=False)
    return out


def save(net: Verifier, path) -> int:
    """Writes the file of weights; returns its size in bytes."""
    return write(path, describe(net), input=[4, SIDE, SIDE], output=1)


def matrices(take: photograph.Take, box: torch.Tensor) -> torch.Tensor:
    """(N, 3, 3) from crop points in half crops to the mark's frame, as `photograph.pose` maps them."""
    at = torch.tensor([[-0.5, -0.5], [0.5, -0.5], [0.5, 0.5], [-0.5, 0.5]], device=box.device)
    seen = photograph.pose(take, box, at.reshape(2, 2, 2)).reshape(-1, 4, 2)
    n = len(seen)
    x, y = at[:, 0].expand(n, 4), at[:, 1].expand(n, 4)
    u, v = seen[..., 0], seen[..., 1]
    one, nought = torch.ones_like(x), torch.zeros_like(x)
    first = torch.stack([x, y, one, nought, nought, nought, -u * x, -u * y], -1)
    second = torch.stack([nought, nought, nought, x, y, one, -v * x, -v * y], -1)
    solved = torch.linalg.solve(torch.cat([first, second], 1), torch.cat([u, v], 1))
    return torch.cat([solved, torch.ones_like(solved[:, :1])], 1).reshape(n, 3, 3)


def framed(more: torch.Tensor) -> torch.Tensor:
    """(N, 3, 3) from layout to each mark's frame."""
    cx, cy, s = more[:, 0], more[:, 1], more[:, 2]
    nought, one = torch.zeros_like(s), torch.ones_like(s)
    return torch.stack([s, nought, -cx * s, nought, s, -cy * s, nought, nought, one], 1).reshape(-1, 3, 3)


def with_letters(canvas: torch.Tensor, more: torch.Tensor) -> torch.Tensor:
    """Canvases with each mark's changed letter."""
    points = compose.canvas_points(canvas.device)
    cx, cy, s = (more[:, k, None, None] for k in range(3))
    x, y, w, h, dx, dy = (more[:, k, None, None] for k in range(3, 9))
    at_x, at_y = (x - cx) * s, (y - cy) * s
    inside = ((points[..., 0] - at_x).abs() < w * s) & ((points[..., 1] - at_y).abs() < h * s)
    moved = torch.stack([points[..., 0] + inside * dx * s, points[..., 1] + inside * dy * s], -1)
    return F.grid_sample(canvas, moved / compose.REACH, align_corners=False)


def rattled(points: torch.Tensor, count: int, generator: torch.Generator) -> torch.Tensor:
    """Crop points (count, SIDE, SIDE, 2) moved as an alignment may err: most a little, some more."""
    device = points.device

    def normal(*size):
        return torch.randn(size, device=device, generator=generator)

    more = torch.where(torch.rand(count, device=device, generator=generator) < 0.2, 2.5, 1.0)[:, None]
    turn, stretch = normal(count, 1) * TURN * more, normal(count, 2) * STRETCH * more
    shift = normal(count, 2) * SHIFT * more * (2 / SIDE)
    c, s = turn.cos(), turn.sin()
    matrix = torch.stack([torch.cat([c, -s], 1), torch.cat([s, c], 1)], 1) * (1 + stretch[:, None, :])
    moved = torch.einsum("nij,hwj->nhwi", matrix, points) + shift[:, None, None]
    bend = F.interpolate(normal(count, 2, 4, 4), size=(SIDE, SIDE), mode="bicubic", align_corners=False)
    amount = torch.rand(count, 1, 1, 1, device=device, generator=generator) * BEND * more[:, :, None, None] * (2 / SIDE)
    return moved + (bend * amount).permute(0, 2, 3, 1)


def laid(maps: torch.Tensor, matrix: torch.Tensor, points: torch.Tensor) -> torch.Tensor:
    """Exemplars' maps (N, 2, SIDE, SIDE) seen at points (N, SIDE, SIDE, 2) through (N, 3, 3)."""
    h = torch.cat([points, torch.ones_like(points[..., :1])], -1)
    h = torch.einsum("nij,nhwj->nhwi", matrix, h)
    away = h[..., 2:].abs() < 1e-3
    grid = h[..., :2] / torch.where(away, torch.ones_like(h[..., 2:]), h[..., 2:])
    out = F.grid_sample(maps, grid.clamp(-4, 4), align_corners=False)
    valid = (out[:, 1:] > 0.5).float()
    return torch.cat([out[:, :1] * valid, valid], 1)


@torch.no_grad()
def pairs(atlas, batch, device, generator, kind=None, library=None):
    """Pairs (4 N, 4, SIDE, SIDE) of N photos with the four library pictures of each one's group, the
    photo's own group member at index n % 4. `kind` is a condition, `library` scan or ordinary."""
    table, boxes, more = (np.asarray(b) for b in batch)
    count = len(boxes)
    more = torch.from_numpy(more).to(device)
    box = torch.from_numpy(boxes).to(device)
    canvas = with_letters(compose.draw(atlas, table, count, device), more)
    dice = photograph.Dice(count, device, generator, SIDE)
    photo = photograph.condition(dice, kind) if kind else photograph.photo(dice)
    if library == "scan":
        reference = photograph.scan(dice)
    elif library == "ordinary":
        reference = photograph.photo(dice, 0.3)
    else:
        reference = photograph.mixed(photograph.scan(dice), photograph.photo(dice, 0.3), dice.chance(ORDINARY))
    # Nobody keeps a picture of half a mark as its exemplar.
    reference.cut, reference.sticker = reference.cut * 0 + 9, reference.sticker * dice.chance(0.2)
    if not kind:
        # The finder's circle is less exact than a crop around the known box.
        photo.scale = dice.uniform(0.72, 1.2)
    scale = dice.uniform(1.0, SIDE / 160)
    for take in (photo, reference):
        take.blur, take.defocus, take.motion = take.blur * scale, take.defocus * scale, take.motion * scale[:, None]
    both = photograph.Take(**{k: torch.cat([v, getattr(reference, k)]) for k, v in vars(photo).items()})
    twice = photograph.Dice(2 * count, device, generator, SIDE)
    twice.all_coarse = dice.all_coarse
    rgb, inside = photograph.photograph(atlas, canvas.repeat(2, 1, 1, 1), box.repeat(2, 1), both, twice)
    mine, theirs = ink_map(rgb, inside).chunk(2)
    to_layout = torch.linalg.inv(framed(more)) @ matrices(photo, box)
    from_layout = torch.linalg.inv(matrices(reference, box)) @ framed(more)
    own = torch.arange(count, device=device).repeat_interleave(GROUP)
    other = own // GROUP * GROUP + torch.arange(GROUP, device=device).repeat(count)
    points = rattled(photograph.crop_points(device, SIDE), len(own), generator)
    over = laid(theirs[other], from_layout[other] @ to_layout[own], points)
    return torch.cat([mine[own], over], 1)


def losses(odds: torch.Tensor, target: torch.Tensor | None = None):
    """Loss, yes-or-no loss, share of photos whose own is first, over (4 N,) log-odds. `target` is the
    place of each photo's own among its four, or -1 where there is none; its number modulo 4 if not given."""
    table = odds.reshape(-1, GROUP)
    if target is None:
        target = torch.arange(len(table), device=odds.device) % GROUP
    has = target >= 0
    same = F.one_hot(target.clamp_min(0), GROUP).float() * has[:, None]
    yes_no = F.binary_cross_entropy_with_logits(table, same)
    choice = F.cross_entropy(table, target.clamp_min(0), reduction="none")
    choice = (choice * has).sum() / has.sum().clamp_min(1)
    right = ((table.argmax(1) == target) & has).float().sum() / has.sum().clamp_min(1)
    return yes_no + CHOICE * choice, yes_no, right


@torch.no_grad()
def report(net, art, atlas, device, batches):
    """Per condition and library: own first among four; yes-or-no error; own kept where 2 in 100 others
    would be."""
    net.eval()
    lines = []
    for library in ("scan", "ordinary"):
        for number, kind in enumerate(CONDITIONS):
            layouts = iter(layout.Layouts(art, 128, EVAL_SEED + number, True))
            generator = torch.Generator(device).manual_seed(EVAL_SEED + number)
            odds = torch.cat([net(pairs(atlas, next(layouts), device, generator, kind, library)) for _ in range(batches)])
            table = odds.float().reshape(-1, GROUP)
            target = torch.arange(len(table), device=device) % GROUP
            first = (table.argmax(1) == target).float().mean().item()
            own = table.gather(1, target[:, None])[:, 0]
            others = table[F.one_hot(target, GROUP) == 0]
            kept = (own > others.quantile(0.98)).float().mean().item()
            _, yes_no, _ = losses(odds.float())
            lines.append(f"  {library:9s} {kind:14s} first of four {100 * first:5.1f}  kept at 2 % {100 * kept:5.1f}  yes-or-no {yes_no.item():.3f}")
    net.train()
    return lines


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--atlas", required=True)
    parser.add_argument("--out", required=True)
    parser.add_argument("--minutes", type=float, default=8)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--photos", type=int, default=160, help="a step, a multiple of 4")
    parser.add_argument("--workers", type=int, default=8)
    parser.add_argument("--eval-batches", type=int, default=4)
    parser.add_argument("--resume", help="a verifier.bin to go on from")
    parser.add_argument("--met", nargs=2, action="append", default=[], metavar=("LOT", "PROTOCOL"))
    options = parser.parse_args()
    pathlib.Path(options.out).mkdir(parents=True, exist_ok=True)
    ranks = max(1, torch.cuda.device_count())
    if ranks > 1:
        mp.spawn(train, (ranks, options), ranks)
    else:
        train(0, 1, options)


def train(rank: int, ranks: int, options) -> None:
    """One process's part of the training; the first one speaks and writes."""
    out = pathlib.Path(options.out)
    log = Log(out / "verifier-log.txt") if rank == 0 else lambda text: None
    device = torch.device("cuda", rank) if torch.cuda.is_available() else torch.device("cpu")
    if ranks > 1:
        torch.cuda.set_device(device)
        dist.init_process_group("nccl", init_method="tcp://127.0.0.1:29511", rank=rank, world_size=ranks)
    torch.manual_seed(options.seed)
    torch.backends.cudnn.benchmark = True
    file = np.load(options.atlas)
    file = {key: file[key] for key in file.files}
    atlas = compose.Atlas(file, device)
    art, watched = layout.Artwork(file, 0), layout.Artwork(file, 1)
    net = Verifier()
    peak = PEAK_RATE
    if options.resume:
        restore(net, options.resume, net.hidden, net.last)
        peak *= RESUMED
    net = net.to(device, memory_format=torch.channels_last)
    # Folded statistics are not measured anew.
    norms = [m for m in net.modules() if isinstance(m, nn.BatchNorm2d)] if options.resume else []
    for m in norms:
        m.eval()
    average = Average(net)
    groups = [{"params": [p for p in net.parameters() if p.dim() > 1], "weight_decay": DECAY},
              {"params": [p for p in net.parameters() if p.dim() <= 1], "weight_decay": 0.0}]
    optimiser = torch.optim.AdamW(groups, lr=peak)
    met = Met(options.met, rank, ranks) if options.met else None
    if met:
        log(f"{len(met.known)} photos laid by the tool ({ranks} processes), {met.known.sum()} of known marks")
    log(f"{ranks} processes; {sum(p.numel() for p in net.parameters())} weights; torch {torch.__version__}; {vars(options)}")
    loader = torch.utils.data.DataLoader(layout.Layouts(art, options.photos, options.seed * 100 + rank, True), batch_size=None,
                                         num_workers=options.workers, prefetch_factor=4 if options.workers else None)
    generator = torch.Generator(device).manual_seed(options.seed * 100 + rank)
    picks = torch.Generator().manual_seed(options.seed * 100 + rank)
    begin, step, seen, since, half = time.monotonic(), 0, [], time.monotonic(), False
    for batch in loader:
        part = (time.monotonic() - begin) / 60 / options.minutes
        if ranks > 1:
            # All end with the same step.
            shared = torch.tensor(part, device=device)
            dist.broadcast(shared, 0)
            part = shared.item()
        if part >= 1:
            break
        for group in optimiser.param_groups:
            group["lr"] = peak * min(1, (step + 1) / WARM_STEPS) * (0.005 + 0.995 * 0.5 * (1 + math.cos(math.pi * part)))
        maps = pairs(atlas, batch, device, generator)
        if met:
            more, target = met.batch(int(options.photos * MET), device, picks)
            maps = torch.cat([maps, more])
        maps = maps.contiguous(memory_format=torch.channels_last)
        with torch.autocast(device.type, torch.bfloat16, enabled=device.type == "cuda"):
            odds = net(maps)
        loss, yes_no, right = losses(odds[: GROUP * options.photos].float())
        if met:
            ours, met_yes_no, met_right = losses(odds[GROUP * options.photos :].float(), target)
            loss = (1 - MET) * loss + MET * ours
        optimiser.zero_grad(set_to_none=True)
        loss.backward()
        if ranks > 1:
            slopes = [p.grad for p in net.parameters()]
            joined = torch.cat([g.reshape(-1) for g in slopes])
            dist.all_reduce(joined)
            for g, mean in zip(slopes, (joined / ranks).split([g.numel() for g in slopes])):
                g.copy_(mean.reshape(g.shape))
        nn.utils.clip_grad_norm_(net.parameters(), 5.0)
        optimiser.step()
        step += 1
        average.update(step)
        seen.append(torch.stack([loss.detach(), yes_no.detach(), right, *((met_yes_no.detach(), met_right) if met else ())]))
        if step % 100 == 0 or step in (1, 10):
            mean = torch.stack(seen).mean(0).tolist()
            pace = len(seen) / (time.monotonic() - since)
            log(f"{60 * part * options.minutes:5.0f} s  step {step:6d}  loss {mean[0]:.3f}  yes-or-no {mean[1]:.3f}  first {100 * mean[2]:5.1f} %  "
                + (f"laid by the tool {mean[3]:.3f}, {100 * mean[4]:5.1f} %  " if met else "") + f"{pace:.2f} steps/s")
            seen, since = [], time.monotonic()
        if part > 0.5 and not half and rank == 0:
            half = True
            save(average.net.eval(), out / "verifier.bin")
            average.net.train()
    if ranks > 1:
        dist.barrier()
        dist.destroy_process_group()
    if rank:
        return
    average.net.eval()
    size = save(average.net, out / "verifier.bin")
    batch = next(iter(layout.Layouts(watched, 8, EVAL_SEED, True)))
    some = pairs(atlas, batch, device, torch.Generator(device).manual_seed(EVAL_SEED))[:: GROUP + 1][:PROBES]
    some = (some * 255).round() / 255
    with torch.no_grad():
        odds = average.net(some).float()
    np.savez_compressed(out / "verifier-probe.npz", maps=(some * 255).round().to(torch.uint8).cpu().numpy(), odds=odds.cpu().numpy())
    log(f"verifier.bin {size} bytes; odds of the probes {[round(v, 3) for v in odds.tolist()]}")
    log(f"{step} steps; on tune artwork:")
    for line in report(average.net, watched, atlas, device, options.eval_batches):
        log(line)


if __name__ == "__main__":
    main()
