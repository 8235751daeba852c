"""Trains the finder: where in a photo marks lie, and what the whole photo shows.

    python3 tools/train/finder.py --lots LOT [LOT ...] --watch LOT --atlas target/train/atlas.npz --out DIR \\
        --minutes 7 --seed 1

Lots are kiln's, of the *fit* split; the one to watch is of *tune*. Beside them collages of the same artwork
are drawn all the time (`collage.py`), so that the net does not learn one renderer's ways. The first
minutes (`--alone`) see collages only, while the lots may still be rendered; what is there by then is read.
Photos and collages become overview maps; these are turned, scaled, mirrored, dimmed, blurred and partly
hidden, so that nothing but ink, its grouping and its surroundings can be learnt. Focal loss on the middles
(Lin et al. 2017; Zhou et al. 2019), smooth L1 on the rest, cross entropy on the scene; all at once. Needs
torch and torchvision. A run longer than one call may last is split: --stop-after ends this call earlier,
--checkpoint says where to leave the state, --resume goes on from it.
"""

import argparse
import math
import pathlib
import time

import numpy as np
import torch
import torch.nn.functional as F
from torch import nn

import finder_watch as watching
from collage import KINDS, SIZES, Collage
from finder_net import CELL, GRID, Finder, restore, save
from finder_views import MARKED, Store, augmented, collages, load
from overview import SQUARE

PEAK_RATE = 3e-3
RESUMED = 0.3  # of it, where a net is taken up again
# A batch: so many collages of each kind, and so many of kiln's of each scene.
OF_COLLAGES = {"piece": 18, "close": 10, "loose": 8, "bare": 13, "bare-close": 7, "top": 7, "top-close": 4, "paper": 3,
               "box": 3, "things": 3}
OF_KILN = (24, 20, 12)
# Collages kept of each in a batch, drawn at a time, and marks that they are drawn from.
KEPT, TOGETHER, MARKS = 256, 32, 4096
RENEWED = 2  # steps to a new drawing
WATCHED = 160  # collages of each kind
# What shows of a mark that lies this near to the frame, or is this small, does not make a scene (map pixels).
AT_FRAME, LEAST = 6.0, 5.0
SCENE_WEIGHT = 1.0
# Share of the time after which missing lots are no longer waited for.
PATIENCE = 0.65


def loss_of(given, marks, others):
    """Focal loss on the middles, smooth L1 on place and size at the middles; their sum, and each."""
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


def scene_loss(logits, scenes, marks):
    """Cross entropy over the views of which something can be said."""
    middle = marks[:, :2]
    out = (middle < AT_FRAME).any(1) | (middle > SQUARE - AT_FRAME).any(1) | (marks[:, 2] < LEAST)
    kept = (~(out & (scenes == 0))).float()
    each = F.cross_entropy(logits, scenes, reduction="none", label_smoothing=0.01)
    return (each * kept).sum() / kept.sum().clamp_min(1)


def drawn(views, counts):
    """Random views of a lot, so many of each scene."""
    parts = []
    for scene, n in enumerate(counts):
        members = (views[3] == scene).nonzero()[:, 0]
        if len(members):
            parts.append(members[torch.randint(len(members), (n,), device=members.device)])
    pick = torch.cat(parts)
    return [v[pick] for v in views[:4]]


def there(lots):
    return [lot for lot in lots if (pathlib.Path(lot) / "truth.jsonl").is_file()]


class Watch:
    """What is watched: collages of tune artwork, and a lot once it is there."""

    def __init__(self, file, options, device):
        collage = Collage(file, 1, max(16, MARKS // 8), options.seed + 1000, device)
        each = WATCHED // 4
        parts = [collages(collage, kind, each, size) for kind in KINDS for size in SIZES[:4]]
        names = [kind for kind in KINDS for _ in range(4 * each)]
        self.sets = {"collages": ([torch.cat(p) for p in zip(*parts)], names)}
        self.options, self.device = options, device

    def see_lot(self):
        views = load([self.options.watch], self.device, self.options.limit)
        self.sets["kiln"] = (views[:4], [t["condition"] if t["kind"] in MARKED else t["kind"] for t in views[4]])

    def report(self, net, say, rows_to=None):
        kept = {}
        for name, (views, names) in self.sets.items():
            rows = watching.answers(net, views, names, self.device)
            say(f"{name}, tune:")
            for line in watching.table(rows) + watching.limits(rows):
                say(line)
            kept[name] = np.array([(r[0], *map(str, r[1:])) for r in rows])
        if rows_to:
            np.savez_compressed(rows_to, **kept)


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--lots", nargs="+", required=True)
    parser.add_argument("--watch", required=True)
    parser.add_argument("--atlas", required=True)
    parser.add_argument("--out", required=True)
    parser.add_argument("--minutes", type=float, default=7)
    parser.add_argument("--alone", type=float, default=0.5, help="minutes of collages only")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--limit", type=int, help="photos of each lot")
    parser.add_argument("--stop-after", type=float, help="end this call after so many minutes")
    parser.add_argument("--checkpoint", help="file to leave the state in")
    parser.add_argument("--resume", help="the checkpoint of an earlier call")
    parser.add_argument("--from", dest="before", help="a finder's file of weights to start from, at a lower rate")
    options = parser.parse_args()
    out = pathlib.Path(options.out)
    out.mkdir(parents=True, exist_ok=True)
    log = (out / "finder-log.txt").open("w")

    def say(text):
        print(text, flush=True)
        print(text, file=log, flush=True)

    torch.manual_seed(options.seed)
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    begin = time.time()
    file = np.load(options.atlas)
    collage = Collage(file, 0, MARKS, options.seed, device)
    store = Store(collage, {k: n * KEPT for k, n in OF_COLLAGES.items()}, TOGETHER, options.seed)
    watch = Watch(file, options, device)
    say(f"{sum(store.kept.values())} collages drawn in {time.time() - begin:.0f} s")
    net, peak = Finder(), PEAK_RATE
    if options.before:
        restore(net, options.before)
        peak *= RESUMED
    net = net.to(device)
    # Folded statistics are not measured anew.
    for norm in net.modules():
        if options.before and isinstance(norm, nn.BatchNorm2d):
            norm.eval()
    say(f"{sum(p.numel() for p in net.parameters())} weights")
    average = torch.optim.swa_utils.AveragedModel(net, multi_avg_fn=torch.optim.swa_utils.get_ema_multi_avg_fn(0.998), use_buffers=True)
    optimiser = torch.optim.AdamW(net.parameters(), peak, weight_decay=0.03)
    lot, step, spoken, halfway, before = None, 0, 0.0, False, 0.0
    if options.resume:
        saved = torch.load(options.resume, map_location=device, weights_only=True)
        net.load_state_dict(saved["net"])
        average.load_state_dict(saved["average"])
        optimiser.load_state_dict(saved["optimiser"])
        step, before = saved["step"], saved["minutes"]
    end = min(options.minutes, before + (options.stop_after or options.minutes))
    while (passed := before + (time.time() - begin) / 60) < end:
        part = passed / options.minutes
        if lot is None and passed > options.alone:
            lots = there(options.lots)
            if len(there([*options.lots, options.watch])) == len(options.lots) + 1 or (part > PATIENCE and lots):
                start = time.time()
                lot = load(lots, device, options.limit, collage)
                if there([options.watch]):
                    watch.see_lot()
                say(f"{len(lot[0])} views of {len(lots)} lots, by scene {torch.bincount(lot[3]).tolist()}, read in {time.time() - start:.0f} s")
        for group in optimiser.param_groups:
            group["lr"] = peak * min(1, (step + 1) / 200) * (0.5 + 0.5 * math.cos(math.pi * part)) + 1e-6
        with torch.no_grad():
            if step % RENEWED == 0:
                store.renew()
            parts = [store.take(OF_COLLAGES)]
            if lot is not None:
                parts.append(drawn(lot, OF_KILN))
            maps, marks, silent, scenes = (torch.cat(p) for p in zip(*parts))
            batch, m, o = augmented(maps.float() / 255, marks, silent, device)
        with torch.autocast(device.type, torch.bfloat16, enabled=device.type == "cuda"):
            grid, logits = net(batch)
        places, focal, rest = loss_of(grid.float(), m, o)
        scene = scene_loss(logits.float(), scenes, m)
        optimiser.zero_grad(set_to_none=True)
        (places + SCENE_WEIGHT * scene).backward()
        nn.utils.clip_grad_norm_(net.parameters(), 5.0)
        optimiser.step()
        average.update_parameters(net)
        step += 1
        if passed - spoken > 0.5:
            spoken = passed
            say(f"{passed:5.2f} min  step {step:6d}  middles {focal.item():.3f}  boxes {rest.item():.3f}  scene {scene.item():.3f}")
        if part > 0.7 and not halfway:
            halfway = True
            average.module.eval()
            save(average.module, out / "finder-early.bin")
    if options.checkpoint:
        torch.save({"net": net.state_dict(), "average": average.state_dict(), "optimiser": optimiser.state_dict(), "step": step,
                    "minutes": passed}, options.checkpoint)
    final = average.module.eval()
    size = save(final, out / "finder.bin")
    say(f"{step} steps; finder.bin {size} bytes")
    watch.report(final, say, out / "finder-watch.npz")
    sample = watch.sets["collages"][0][0][::97][:8]
    with torch.no_grad():
        grid, logits = final(sample.float() / 255)
    answer = torch.cat([grid.flatten(1), logits], 1).float().cpu().numpy()
    np.savez_compressed(out / "finder-probe.npz", maps=sample.cpu().numpy(), answers=answer)


if __name__ == "__main__":
    main()
