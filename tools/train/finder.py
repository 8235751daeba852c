"""Trains the finder: where in a photo marks lie.

    python3 tools/train/finder.py --lots LOT [LOT ...] --watch LOT --out DIR --minutes 4 --seed 1

Lots are kiln's, of the *fit* split; the one to watch is of *tune*. A photo becomes its overview map;
the net gives, for each cell of 8 pixels, how likely a mark's middle lies there, the middle's offset
from the cell's in cells, and the natural logarithm of the radius of the circle around the mark's
corners in pixels. Maps are turned, scaled, mirrored, dimmed, blurred and partly hidden while training,
so that nothing but ink, its grouping and its surroundings can be learnt. Focal loss on the middles
(Lin et al. 2017; Zhou et al. 2019), the rest smooth L1 at the middles. Needs torch and torchvision.
"""

import argparse
import concurrent.futures
import json
import math
import pathlib
import time

import numpy as np
import torch
import torch.nn.functional as F
import torchvision.io
from torch import nn

from net import Block, Conv, folded
from overview import SIDE, SQUARE, overview

CELL = 8
GRID = SQUARE // CELL
WIDTHS = (12, 24, 48, 72, 96)
NECK = 40
BATCH = 64
PEAK_RATE = 3e-3
READERS = 12
MARKED = ("known", "unknown", "unknown-sibling")


class Finder(nn.Module):
    """Overview maps (N, 3, SQUARE, SQUARE) to (N, 4, GRID, GRID): score, dx, dy, log radius."""

    def __init__(self):
        super().__init__()
        w = WIDTHS
        self.stem = Conv(3, w[0], 5, 2)
        self.down2 = Conv(w[0], w[1], 3, 2)
        self.down3 = nn.Sequential(Conv(w[1], w[2], 3, 2), Block(w[2]), Block(w[2]))
        self.down4 = nn.Sequential(Conv(w[2], w[3], 3, 2), Block(w[3]), Block(w[3]))
        self.down5 = nn.Sequential(Conv(w[3], w[4], 3, 2), Block(w[4]), Block(w[4]), Block(w[4]))
        self.side3, self.side4, self.side5 = (Conv(c, NECK, 1, relu=False) for c in w[2:])
        self.join4, self.join3 = Conv(NECK, NECK, 3), Conv(NECK, NECK, 3)
        self.head = nn.Conv2d(NECK, 4, 1)
        nn.init.constant_(self.head.bias, 0.0)
        self.head.bias.data[0] = -4.0
        self.head.bias.data[3] = 3.5

    def forward(self, x):
        x3 = self.down3(self.down2(self.stem(x)))
        x4 = self.down4(x3)
        x5 = self.down5(x4)
        up = lambda t: t.repeat_interleave(2, 2).repeat_interleave(2, 3)  # noqa: E731
        y4 = self.join4(F.relu(self.side4(x4) + up(self.side5(x5))))
        y3 = self.join3(F.relu(self.side3(x3) + up(y4)))
        return self.head(y3)


def describe(net: Finder):
    """Header entries and numbers of the folded net, in the format of net.py, with one more layer:
    `double` (from): each pixel becomes 2 x 2."""
    out = []

    def conv(module, source, relu=True, add=None):
        if isinstance(module, Conv):
            weight, bias = folded(module)
            stride = module.conv.stride[0]
        else:
            weight, bias, stride = module.weight, module.bias, 1
        cout, cin, k, _ = weight.shape
        out.append(({"op": "conv", "from": source, "cin": cin, "cout": cout, "k": k, "stride": stride,
                     "pad": k // 2, "relu": relu, "add": add}, [weight, bias]))
        return len(out)

    def double(source):
        out.append(({"op": "double", "from": source}, []))
        return len(out)

    def stage(modules, at):
        for m in modules:
            if isinstance(m, Block):
                inner = conv(m.middle, conv(m.narrow, at))
                at = conv(m.wide, inner, True, at)
            else:
                at = conv(m, at)
        return at

    x3 = stage(net.down3, conv(net.down2, conv(net.stem, 0)))
    x4 = stage(net.down4, x3)
    x5 = stage(net.down5, x4)
    y4 = conv(net.join4, conv(net.side4, x4, True, double(conv(net.side5, x5, False))))
    y3 = conv(net.join3, conv(net.side3, x3, True, double(y4)))
    conv(net.head, y3, False)
    return out


def save(net: Finder, path) -> int:
    layers = describe(net)
    header = {"format": 1, "input": [3, SQUARE, SQUARE], "output": [4, GRID, GRID], "layers": [e for e, _ in layers]}
    numbers = [t.detach().float().cpu().numpy().ravel() for _, some in layers for t in some]
    data = np.concatenate(numbers).astype("<f2").tobytes()
    head = json.dumps(header, separators=(",", ":")).encode() + b"\n"
    pathlib.Path(path).write_bytes(head + data)
    return len(head) + len(data)


def circle(quad):
    """Centre and radius around a quad's corners (about the corners' box, as the tool does)."""
    q = np.asarray(quad)
    centre = (q[:, 0].min() + q[:, 0].max()) / 2, (q[:, 1].min() + q[:, 1].max()) / 2
    return *centre, float(np.hypot(q[:, 0] - centre[0], q[:, 1] - centre[1]).max())


def load(lots, device, limit=None):
    """Maps (uint8), circles (x, y, r in map pixels; r 0 where none), circles to ignore, truths."""
    maps, marks, others, truths = [], [], [], []
    wanted = []
    for lot in map(pathlib.Path, lots):
        for line in (lot / "truth.jsonl").read_text().splitlines()[:limit]:
            truth = json.loads(line)
            if truth.get("quad") is not None or truth["kind"] not in MARKED:
                wanted.append((lot / "photos" / truth["file"], truth))

    def decoded(item):
        return torchvision.io.decode_jpeg(torchvision.io.read_file(str(item[0])))

    with concurrent.futures.ThreadPoolExecutor(READERS) as pool:
        # A few at a time: whole photos are large.
        runs = [wanted[i : i + 64] for i in range(0, len(wanted), 64)]
        pictures = (p for run in runs for p in zip(run, pool.map(decoded, run)))
        for (_, truth), raw in pictures:
            w, h = truth["width"], truth["height"]
            k = SIDE / max(w, h)
            size = [max(1, round(h * k)), max(1, round(w * k))]
            rgb = F.interpolate(raw.to(device)[None].float() / 255, size, mode="bilinear", antialias=True)
            maps.append((overview(rgb.clamp(0, 1)) * 255).round().byte().cpu())
            mark = [v * k for v in circle(truth["quad"])] if truth.get("quad") else [0, 0, 0]
            marks.append(mark)
            ignore = [[v * k for v in circle(s["quad"])] for s in truth["second"][:2]]
            others.append((ignore + [[0, 0, 0]] * 2)[:2])
            truths.append(truth)
    return (torch.stack(maps), torch.tensor(marks, dtype=torch.float32), torch.tensor(others, dtype=torch.float32), truths)


def augmented(maps, marks, others, device):
    """A batch of maps and circles under one random similarity each, dimmed, blurred, hidden."""
    n = len(maps)
    u = lambda a, b, *s: a + (b - a) * torch.rand(n, *s, device=device)  # noqa: E731
    angle, scale = u(-math.pi, math.pi), torch.exp(u(-0.45, 0.45))
    flip = torch.where(torch.rand(n, device=device) < 0.5, -1.0, 1.0)
    shift = u(-0.16, 0.16, 2)
    c, s = angle.cos() / scale, angle.sin() / scale
    # Output place (-1..1) to input place, about the photo's middle.
    middle = (maps[:, 2:3].sum((2, 3)) > 0).float()  # keeps shapes together
    width = maps[:, 2].amax(1).sum(1) / SQUARE
    height = maps[:, 2].amax(2).sum(1) / SQUARE
    mx, my = width - 1, height - 1
    matrix = torch.stack([torch.stack([c * flip, -s, mx - shift[:, 0]], 1), torch.stack([s * flip, c, my - shift[:, 1]], 1)], 1)
    grid = F.affine_grid(matrix, list(maps.shape), align_corners=False)
    out = F.grid_sample(maps, grid, align_corners=False)
    inverse = torch.linalg.inv(matrix[:, :, :2])

    def moved(circles):
        place = circles[..., :2] / (SQUARE / 2) - 1
        back = torch.einsum("nij,n...j->n...i", inverse, place - matrix[:, :, 2].reshape(n, *([1] * (circles.dim() - 2)), 2))
        radius = circles[..., 2] * scale.reshape(n, *([1] * (circles.dim() - 2)))
        return torch.cat([(back + 1) * (SQUARE / 2), radius[..., None]], -1)

    gain = torch.exp(u(-0.6, 0.5, 2, 1, 1))
    ink = torch.atanh(out[:, :2].clamp(0, 0.995)) * gain
    ink = ink * (torch.rand(n, 2, 1, 1, device=device) > torch.tensor([0.04, 0.3], device=device).reshape(1, 2, 1, 1)).float()
    sigma = u(0.0, 1.6)
    taps = torch.exp(-(torch.arange(-4, 5, device=device) ** 2) / (2 * sigma[:, None].clamp_min(0.2) ** 2))
    taps = taps / taps.sum(1, keepdim=True)
    blurry = F.conv2d(ink.transpose(0, 1), taps[:, None, None, :], padding=(0, 4), groups=n)
    blurry = F.conv2d(blurry, taps[:, None, :, None], padding=(4, 0), groups=n).transpose(0, 1)
    some = (torch.rand(n, 1, 1, 1, device=device) < 0.4).float()
    ink = ink + some * (blurry - ink)
    ink = (ink + u(0, 0.12, 1, 1, 1) * torch.randn_like(ink)).abs()
    for _ in range(2):
        x, y, r = u(0, SQUARE), u(0, SQUARE), u(0, 26)
        at = torch.arange(SQUARE, device=device)
        hole = (at[None, None, :] - x[:, None, None]).abs().lt(r[:, None, None]) & (at[None, :, None] - y[:, None, None]).abs().lt(r[:, None, None])
        ink = ink * (~hole[:, None]).float()
    inside = (out[:, 2:] > 0.5).float() * middle[:, :, None, None]
    return torch.cat([torch.tanh(ink) * inside, inside], 1), moved(marks), moved(others)


def loss_of(given, marks, others):
    n, device = len(given), given.device
    at = torch.arange(GRID, device=device) + 0.5
    cx, cy = marks[:, 0] / CELL, marks[:, 1] / CELL
    dx, dy = cx[:, None, None] - at[None, None, :], cy[:, None, None] - at[None, :, None]
    present = (marks[:, 2] > 4) & (cx > 0) & (cy > 0) & (cx < GRID) & (cy < GRID)
    spread = (marks[:, 2] / CELL * 0.18).clamp(0.7, 2.5)[:, None, None]
    heat = torch.exp(-(dx**2 + dy**2) / (2 * spread**2)) * present[:, None, None]
    ox, oy = others[..., 0] / CELL, others[..., 1] / CELL
    near = ((ox[..., None, None] - at) ** 2 + (oy[..., None, None] - at[:, None]) ** 2) < (others[..., 2, None, None] / CELL + 1) ** 2
    ignored = (near & (others[..., 2, None, None] > 0)).any(1) & (heat < 0.1)
    score = given[:, 0].sigmoid().clamp(1e-5, 1 - 1e-5)
    peak = (dx.abs() <= 0.75) & (dy.abs() <= 0.75) & present[:, None, None]
    positive = -((1 - score) ** 2) * score.log() * peak
    negative = -(score**2) * (1 - score).log() * (1 - heat) ** 4 * (~peak) * (~ignored)
    focal = (positive.sum() + negative.sum()) / peak.sum().clamp_min(1)
    box = F.smooth_l1_loss(given[:, 1], dx.expand_as(given[:, 1]), reduction="none") + F.smooth_l1_loss(given[:, 2], dy.expand_as(given[:, 2]), reduction="none")
    size = F.smooth_l1_loss(given[:, 3], marks[:, 2].clamp_min(1).log()[:, None, None].expand_as(given[:, 3]), reduction="none", beta=0.1)
    rest = ((0.5 * box + 2 * size) * peak).sum() / peak.sum().clamp_min(1)
    return focal + rest, focal, rest


def peaks(given, most=5):
    """Best cells of one photo: (score, x, y, r), no two within half a radius."""
    score = given[0].sigmoid()
    order = score.flatten().argsort(descending=True)[:200].tolist()
    found = []
    for i in order:
        gy, gx = divmod(i, GRID)
        x, y = (gx + 0.5 + given[1, gy, gx].item()) * CELL, (gy + 0.5 + given[2, gy, gx].item()) * CELL
        r = math.exp(min(given[3, gy, gx].item(), 5.5))
        if all(math.hypot(x - f[1], y - f[2]) > 0.5 * max(r, f[3]) for f in found):
            found.append((score[gy, gx].item(), x, y, r))
        if len(found) == most:
            break
    return found


@torch.no_grad()
def report(net, data, device):
    maps, marks, _, truths = data
    net.eval()
    tally = {}
    for i in range(0, len(maps), BATCH):
        given = net(maps[i : i + BATCH].to(device).float() / 255).float().cpu()
        for j, g in enumerate(given):
            truth, (x, y, r) = truths[i + j], marks[i + j].tolist()
            found = peaks(g)
            if r == 0:
                tally.setdefault(truth["kind"], []).append((found[0][0],))
                continue
            good = [math.hypot(f[1] - x, f[2] - y) < 0.25 * r and 0.75 < f[3] / r < 1.33 for f in found]
            tally.setdefault(truth["condition"], []).append((found[0][0], good[0], any(good[:3]), any(good)))
    lines = []
    for kind, rows in sorted(tally.items()):
        scores = sorted(r[0] for r in rows)
        text = f"  {kind:12s} n {len(rows):4d}  score 5 % {scores[len(scores) // 20]:.2f}  50 % {scores[len(scores) // 2]:.2f}  95 % {scores[len(scores) * 19 // 20]:.2f}"
        if len(rows[0]) > 1:
            text += "  found in first, three, five: " + " ".join(f"{100 * sum(r[k] for r in rows) / len(rows):5.1f}" for k in (1, 2, 3))
        lines.append(text)
    net.train()
    return lines


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--lots", nargs="+", required=True)
    parser.add_argument("--watch", required=True)
    parser.add_argument("--out", required=True)
    parser.add_argument("--minutes", type=float, default=4)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--limit", type=int)
    options = parser.parse_args()
    out = pathlib.Path(options.out)
    out.mkdir(parents=True, exist_ok=True)
    log = (out / "finder-log.txt").open("w")

    def say(text):
        print(text, flush=True)
        print(text, file=log, flush=True)

    torch.manual_seed(options.seed)
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    start = time.time()
    maps, marks, others, truths = load(options.lots, device, options.limit)
    watch = load([options.watch], device, options.limit)
    say(f"{len(maps)} photos, {len(watch[0])} to watch, read in {time.time() - start:.0f} s")
    maps, marks, others = maps.to(device), marks.to(device), others.to(device)
    net = Finder().to(device)
    say(f"{sum(p.numel() for p in net.parameters())} weights")
    average = torch.optim.swa_utils.AveragedModel(net, multi_avg_fn=torch.optim.swa_utils.get_ema_multi_avg_fn(0.997), use_buffers=True)
    optimiser = torch.optim.AdamW(net.parameters(), PEAK_RATE, weight_decay=0.03)
    begin, step, spoken = time.time(), 0, 0.0
    while (passed := (time.time() - begin) / 60) < options.minutes:
        part = passed / options.minutes
        for group in optimiser.param_groups:
            group["lr"] = PEAK_RATE * min(1, (step + 1) / 200) * (0.5 + 0.5 * math.cos(math.pi * part)) + 1e-6
        pick = torch.randint(len(maps), (BATCH,), device=device)
        with torch.no_grad():
            batch, m, o = augmented(maps[pick].float() / 255, marks[pick], others[pick], device)
        with torch.autocast(device.type, torch.bfloat16, enabled=device.type == "cuda"):
            given = net(batch)
        loss, focal, rest = loss_of(given.float(), m, o)
        optimiser.zero_grad(set_to_none=True)
        loss.backward()
        nn.utils.clip_grad_norm_(net.parameters(), 5.0)
        optimiser.step()
        average.update_parameters(net)
        step += 1
        if passed - spoken > 0.5:
            spoken = passed
            say(f"{passed:5.2f} min  step {step:6d}  middles {focal.item():.3f}  boxes {rest.item():.3f}")
    say(f"{step} steps; on the lot watched:")
    final = average.module
    for line in report(final, watch, device):
        say(line)
    final.eval()
    size = save(final, out / "finder.bin")
    say(f"finder.bin {size} bytes")
    sample = watch[0][:4].float() / 255
    with torch.no_grad():
        answer = final(sample.to(device)).float().cpu().numpy()
    np.savez_compressed(out / "finder-probe.npz", maps=watch[0][:4].numpy(), answers=answer, files=[t["file"] for t in watch[3][:4]])


if __name__ == "__main__":
    main()
