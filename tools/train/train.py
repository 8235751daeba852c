"""Trains the descriptor of marks.

    python3 tools/train/train.py --atlas target/train/atlas.npz --out DIR --minutes 9 --seed 1

Everything after the layout of marks runs on the accelerator. Writes to DIR:
log.txt, weights.bin (see net.py) and probe.npz.  The learning rate follows the
clock, so a run takes --minutes whatever the machine.  A run longer than one call
may last is split: --stop-after ends this call earlier, --checkpoint says where to
leave the state (21 MB), --resume goes on from it.

With --cuts LOT NAME (may be given again), a part of each step are marks that the tool itself found and cut, on
kiln's *fit* renders (`tune --cuts`, read by cuts.py), each among the whole library of its lot. With --from FILE
the training starts from folded weights, at a lower rate.
"""

import argparse
import copy
import math
import pathlib
import time

import numpy as np
import torch
import torch.nn.functional as F

import camera
import compose
import cuts as own_cuts
import evaluate
import inkmap
import layout
import net as network
import photograph
from inkmap import ink_map

PEAK_RATE = 2e-3
DECAY = 0.05
WARM_STEPS = 200
# Averaged weights are the ones shipped; this is the average's memory per step.
AVERAGE = 0.998
# The reference is turned to within this of the photo: half of one of eight turns.
RESIDUAL = math.pi / 8
HOTTEST = 100.0
STARTING_HEAT, LATER_HEAT = 1 / 0.07, 30.0
# Weight of the marks that the tool cut, photos of them a step, and the first rate of a net that is taken up again.
CUT_WEIGHT, CUT_PHOTOS = 0.5, 256
RESUMED = 0.4
PROBES = 16


def options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--atlas", required=True)
    parser.add_argument("--out", required=True)
    parser.add_argument("--minutes", type=float, default=9.0, help="length of the whole schedule")
    parser.add_argument("--stop-after", type=float, help="end this call after so many minutes")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--batch", type=int, default=512, help="pairs a step, a multiple of 4")
    parser.add_argument("--workers", type=int, default=6)
    parser.add_argument("--eval-marks", type=int, default=1000)
    parser.add_argument("--eval-every", type=float, default=2.0, help="minutes")
    parser.add_argument("--checkpoint", help="file to leave the state in")
    parser.add_argument("--resume", help="the checkpoint of an earlier call")
    parser.add_argument("--cuts", nargs=2, action="append", default=[], metavar=("LOT", "NAME"))
    parser.add_argument("--from", dest="before", help="a weights.bin to start from")
    parser.add_argument("--compile", action="store_true",
                        help="compile the net and the costliest stages (a minute or two to start)")
    return parser.parse_args()


class Log:
    """Lines to the screen and to log.txt, with the minutes gone."""

    def __init__(self, path: pathlib.Path):
        self.file = open(path, "a", encoding="utf-8")

    def __call__(self, text: str) -> None:
        print(text, flush=True)
        self.file.write(text + "\n")
        self.file.flush()


@torch.no_grad()
def pairs(atlas: compose.Atlas, table: np.ndarray, boxes: np.ndarray, device: torch.device,
          generator: torch.Generator) -> torch.Tensor:
    """Ink maps (2 N, 2, SIDE, SIDE) of a batch: N photos, then their N references."""
    count = len(boxes)
    canvas = compose.draw(atlas, table, count, device)
    box = torch.from_numpy(boxes).to(device)
    dice = photograph.Dice(count, device, generator)
    photo, reference = photograph.photo(dice), photograph.reference(dice)
    reference.turn = photo.turn + dice.uniform(-RESIDUAL, RESIDUAL)
    both = photograph.Take(**{k: torch.cat([v, getattr(reference, k)]) for k, v in vars(photo).items()})
    twice = photograph.Dice(2 * count, device, generator)
    rgb, inside = photograph.photograph(atlas, canvas.repeat(2, 1, 1, 1), box.repeat(2, 1), both, twice)
    return ink_map(rgb, inside)


def contrast(vectors: torch.Tensor, heat: torch.Tensor) -> tuple[torch.Tensor, torch.Tensor]:
    """Symmetric InfoNCE of photos and references, and the share ranked first."""
    photo, reference = vectors.chunk(2)
    scores = photo @ reference.T * heat.exp().clamp_max(HOTTEST)
    target = torch.arange(len(photo), device=vectors.device)
    loss = (F.cross_entropy(scores, target) + F.cross_entropy(scores.T, target)) / 2
    return loss, (scores.argmax(1) == target).float().mean()


class Average:
    """A moving average of a net's weights and batch-norm statistics."""

    def __init__(self, net: torch.nn.Module):
        self.net = copy.deepcopy(net)
        pairs_ = zip(self.net.state_dict().values(), net.state_dict().values())
        self.mine, self.theirs = zip(*[(a, b) for a, b in pairs_ if a.is_floating_point()])

    @torch.no_grad()
    def update(self, step: int) -> None:
        keep = min(AVERAGE, (1 + step) / (10 + step))
        torch._foreach_lerp_(self.mine, self.theirs, 1 - keep)


def compiled(net: network.Net) -> torch.nn.Module:
    """Compiles the net, and in place the drawing's costliest stages without chance in them."""
    for module, name in ((photograph, "pose"), (camera, "tone"), (inkmap, "lab"), (inkmap, "distance")):
        setattr(module, name, torch.compile(getattr(module, name)))
    return torch.compile(net)


def rate(step: int, gone: float) -> float:
    """Learning rate: warm-up by steps, cosine by the share of the time gone."""
    return PEAK_RATE * min(1.0, (step + 1) / WARM_STEPS) * (0.005 + 0.995 * 0.5 * (1 + math.cos(math.pi * gone)))


def write(out: pathlib.Path, average: network.Net, bench: evaluate.Bench, log: Log) -> None:
    """weights.bin and probe.npz from the averaged net."""
    average.eval()
    size = network.save(average, out / "weights.bin")
    rgb, inside = bench.probe(PROBES)
    bytes_ = (rgb * 255).round().to(torch.uint8)
    maps = ink_map(bytes_.float() / 255, inside)
    vectors = network.run(out / "weights.bin", maps)
    whole = average(maps).float().cpu()
    np.savez_compressed(
        out / "probe.npz", rgb=bytes_.permute(0, 2, 3, 1).cpu().numpy(),
        inside=inside[:, 0].to(torch.uint8).cpu().numpy(),
        maps=maps.cpu().numpy(), vectors=vectors.numpy())
    agree = F.cosine_similarity(vectors, whole).min().item()
    log(f"weights.bin {size} bytes; half precision keeps a cosine of {agree:.5f} or more")


def main() -> None:
    chosen = options()
    out = pathlib.Path(chosen.out)
    out.mkdir(parents=True, exist_ok=True)
    log = Log(out / "log.txt")
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    torch.manual_seed(chosen.seed)
    torch.backends.cudnn.benchmark = True
    started = time.monotonic()

    file = np.load(chosen.atlas)
    file = {key: file[key] for key in file.files}
    atlas = compose.Atlas(file, device)
    net = network.Net()
    peak = PEAK_RATE
    if chosen.before:
        network.restore(net, chosen.before, net.head)
        peak *= RESUMED
    net = net.to(device, memory_format=torch.channels_last)
    # Folded statistics are not measured anew.
    norms = [m for m in net.modules() if isinstance(m, torch.nn.BatchNorm2d)] if chosen.before else []
    average = Average(net)
    heat = torch.nn.Parameter(torch.tensor(math.log(STARTING_HEAT if not chosen.before else LATER_HEAT), device=device))
    decayed = [p for p in net.parameters() if p.dim() > 1]
    plain = [p for p in net.parameters() if p.dim() <= 1] + [heat]
    optimiser = torch.optim.AdamW([{"params": decayed, "weight_decay": DECAY},
                                   {"params": plain, "weight_decay": 0.0}], lr=peak,
                                  fused=device.type == "cuda")
    step, before = 0, 0.0
    if chosen.resume:
        saved = torch.load(chosen.resume, map_location=device, weights_only=True)
        net.load_state_dict(saved["net"])
        average.net.load_state_dict(saved["average"])
        optimiser.load_state_dict(saved["optimiser"])
        heat.data.copy_(saved["heat"])
        step, before = saved["step"], saved["minutes"]
    runner = compiled(net) if chosen.compile else net
    weights, work = network.cost(net)
    log(f"torch {torch.__version__} on {torch.cuda.get_device_name() if device.type == 'cuda' else 'cpu'}; "
        f"{weights / 1e6:.2f} M weights, {work / 1e6:.0f} M multiply-adds; {vars(chosen)}")

    art = layout.Artwork(file, 0)
    # Each call, also one that goes on, gets marks and photographs of its own.
    seed = chosen.seed * 1000 + step
    loader = torch.utils.data.DataLoader(layout.Layouts(art, chosen.batch, seed), batch_size=None,
                                         num_workers=chosen.workers, prefetch_factor=4 if chosen.workers else None)
    generator = torch.Generator(device).manual_seed(seed)
    cuts = own_cuts.Cuts(chosen.cuts) if chosen.cuts else None
    picks = torch.Generator().manual_seed(seed)
    if cuts:
        log(f"{[(len(e), len(p)) for e, p, _ in cuts.lots]} exemplars and photos cut by the tool")
    bench = evaluate.Bench(file, atlas, device, chosen.eval_marks)

    def minutes() -> float:
        return before + (time.monotonic() - started) / 60

    end = min(chosen.minutes, before + (chosen.stop_after or chosen.minutes))
    next_eval, first, since, seen = minutes() + chosen.eval_every, step, time.monotonic(), []
    net.train()
    for m in norms:
        m.eval()
    for table, boxes in loader:
        now = minutes()
        if now >= end:
            break
        for group in optimiser.param_groups:
            group["lr"] = rate(step, min(1.0, now / chosen.minutes)) * peak / PEAK_RATE
        maps = pairs(atlas, np.asarray(table), np.asarray(boxes), device, generator)
        drawn = len(maps)
        if cuts:
            library, photos, own = cuts.batch(CUT_PHOTOS, device, picks)
            maps = torch.cat([maps, library, photos])
        maps = maps.contiguous(memory_format=torch.channels_last)
        with torch.autocast(device.type, dtype=torch.bfloat16):
            vectors = runner(maps)
        loss, right = contrast(vectors[:drawn], heat)
        shown = [loss.detach(), right]
        if cuts:
            size = len(library) // own_cuts.TURNS
            met, found = own_cuts.loss_of(vectors[drawn:], size, own, heat.exp().clamp_max(HOTTEST))
            loss = (1 - CUT_WEIGHT) * loss + CUT_WEIGHT * met
            shown += [met.detach(), found]
        optimiser.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(net.parameters(), 5.0)
        optimiser.step()
        step += 1
        average.update(step)
        seen.append(torch.stack(shown))
        if step % 50 == 0 or step - first in (1, 10):
            mean = torch.stack(seen).mean(0).tolist()
            pace = len(seen) / (time.monotonic() - since)
            log(f"{minutes():6.2f} min  step {step:6d}  loss {mean[0]:.3f}  first {100 * mean[1]:5.1f} %  "
                + (f"cut by the tool {mean[2]:.3f}, {100 * mean[3]:5.1f} %  " if cuts else "")
                + f"heat {heat.exp().item():5.1f}  {pace:.2f} steps/s")
            seen, since = [], time.monotonic()
        if minutes() >= next_eval:
            log(f"{minutes():6.2f} min  step {step}, {bench.count} tune marks:")
            for line in bench.report(average.net):
                log(line)
            next_eval, since = minutes() + chosen.eval_every, time.monotonic()
    log(f"{minutes():6.2f} min  step {step}, the end, {bench.count} tune marks:")
    for line in bench.report(average.net):
        log(line)
    write(out, average.net, bench, log)
    if chosen.checkpoint:
        torch.save({"net": net.state_dict(), "average": average.net.state_dict(), "optimiser": optimiser.state_dict(),
                    "heat": heat.detach(), "step": step, "minutes": minutes()}, chosen.checkpoint)


if __name__ == "__main__":
    main()
