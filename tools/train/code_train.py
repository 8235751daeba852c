"""Trains the reader of codes.

    python3 tools/train/code_train.py --atlas target/train/glyphs.npz --out DIR --minutes 8 --seed 1

Needs torch and numpy, this folder and the atlas. Writes to DIR: code-log.txt, code.bin (see
code_net.py), code-probe.npz, and code-sheet.npz, strips to look at. The learning rate
follows the clock. `--split 0` trains on fonts of fit and watches those of tune; `--split 2`
trains on both, and what it prints of tune is then no test. `--from code.bin` goes on from
folded weights: batch norms stay as they are folded. `--cuts FILE` takes a part of each batch
from photos (code_cuts.py). `--resume code-state.pt` goes on from where another run ended. A run may be
split: with `--minutes 18 --end-at 9` and then `--minutes 18 --begin-at 9 --resume DIR/code-state.pt` the
learning rate falls once over both.
"""

import argparse
import collections
import copy
import math
import pathlib
import time

import numpy as np
import torch
import torch.nn.functional as F

import code_cuts
import code_net
import code_strips
from code_glyphs import CLASSES
from net import restore

PEAK_RATE = 3e-3
# The same when going on from folded weights, which have no batch norm to keep them in bounds.
LATER_RATE = 8e-4
# The same when going on from a run that had ended.
RESUMED_RATE = 1.5e-3
DECAY = 0.03
WARM_STEPS = 300
AVERAGE = 0.999
# One in so many strips of a step is cut out of a photo.
CUT_OUT = 4
# Strips that are held, and batches of them before the first step.
HELD, FIRST = 60_000, 12
WATCHED = 4096
PROBES = 24


def options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--atlas", required=True)
    parser.add_argument("--out", required=True)
    parser.add_argument("--minutes", type=float, default=8.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--split", type=int, default=0, help="0: fit, 2: fit and tune")
    parser.add_argument("--batch", type=int, default=512, help="strips a step, a multiple of 128")
    parser.add_argument("--workers", type=int, default=12)
    parser.add_argument("--times", type=int, default=3, help="steps for each batch of new strips")
    parser.add_argument("--begin-at", type=float, default=0.0, help="minutes of the schedule that are done already")
    parser.add_argument("--end-at", type=float, help="minutes of the schedule at which to stop")
    parser.add_argument("--from", dest="begin", help="folded weights to go on from")
    parser.add_argument("--resume", help="code-state.pt of an earlier run to go on from")
    parser.add_argument("--cuts", nargs="*", default=[], help="codes cut out of photos of the fit split")
    parser.add_argument("--watch-every", type=float, default=2.0, help="minutes")
    return parser.parse_args()


class Held:
    """The strips that were drawn last, on the device, to take steps from: a strip costs more to draw than
    to learn from."""

    def __init__(self, generator: torch.Generator):
        self.generator, self.count, self.at = generator, 0, 0
        self.parts: list[torch.Tensor] = []

    def add(self, *parts: torch.Tensor) -> None:
        """Takes a batch in; the oldest strips go."""
        if not self.parts:
            self.parts = [torch.zeros(HELD, *part.shape[1:], dtype=part.dtype, device=part.device) for part in parts]
        many = len(parts[0])
        place = (torch.arange(many, device=parts[0].device) + self.at) % HELD
        for held, part in zip(self.parts, parts):
            held[place] = part
        self.at = (self.at + many) % HELD
        self.count = min(self.count + many, HELD)

    def draw(self, count: int) -> list[torch.Tensor]:
        some = torch.randint(self.count, (count,), device=self.generator.device, generator=self.generator)
        return [part[some] for part in self.parts]


class Supply:
    """Batches of strips: drawn ones, and where there are cuts a part from photos."""

    def __init__(self, chosen: argparse.Namespace, file: dict, atlas: code_strips.Atlas, generator: torch.Generator):
        self.atlas, self.generator, self.paths = atlas, generator, [pathlib.Path(path) for path in chosen.cuts]
        self.cut_out = chosen.batch // CUT_OUT // code_strips.STACK * code_strips.STACK if self.paths else 0
        codes = code_strips.Codes(file, chosen.split, chosen.batch - self.cut_out, chosen.seed)
        loader = torch.utils.data.DataLoader(codes, batch_size=None, num_workers=chosen.workers,
                                             prefetch_factor=4 if chosen.workers else None)
        self.laid, self.cuts, self.known = iter(loader), None, 0

    def strips(self) -> list[torch.Tensor]:
        """Views in half precision, both texts, their lengths, and how likely the first is."""
        device = self.generator.device
        table, ends, texts, lengths, chances = [torch.as_tensor(part).to(device) for part in next(self.laid)]
        ink, _ = code_strips.strips(self.atlas, table, ends, self.generator)
        drawn = [ink.half(), texts, lengths, chances]
        # Photos may still be cut while training goes on.
        there = [path for path in self.paths if path.exists()]
        if len(there) > self.known:
            self.cuts, self.known = code_cuts.Cuts(there, device), len(there)
        if not self.cuts:
            return drawn
        ink, labels, lengths = self.cuts.strips(self.cut_out, self.generator)
        cut = [ink.half(), labels[:, None].expand(-1, 2, -1), lengths, torch.ones(len(ink), device=device)]
        return [torch.cat(pair) for pair in zip(drawn, cut)]


def loss_of(scores: torch.Tensor, texts: torch.Tensor, lengths: torch.Tensor, chances: torch.Tensor) -> torch.Tensor:
    """Mean of what strips cost, each alike, a long one a little more; of what may be two texts, both count by
    how likely they are."""
    columns = F.log_softmax(scores.float(), 1).permute(2, 0, 1)

    def cost(some: torch.Tensor, which: int) -> torch.Tensor:
        full = torch.full((len(some),), columns.shape[0], dtype=torch.long, device=some.device)
        return F.ctc_loss(columns[:, some], texts[some, which], full, lengths[some], reduction="none",
                          zero_infinity=True)

    every, two = torch.arange(len(chances), device=chances.device), (chances < 1).nonzero()[:, 0]
    first = cost(every, 0) * chances
    second = cost(two, 1) * (1 - chances[two])
    return (first.index_add(0, two, second) / lengths.clamp_min(1).float().sqrt()).mean()


def greedy(scores: torch.Tensor) -> list[list[int]]:
    """Best column by column, repeats and nothing dropped."""
    best = scores.argmax(1).cpu().numpy()
    out = []
    for row in best:
        kept = row[np.insert(row[1:] != row[:-1], 0, True)]
        out.append([int(c) for c in kept if c])
    return out


def edits(a: list[int], b: list[int]) -> int:
    """Levenshtein distance."""
    row = list(range(len(b) + 1))
    for i, x in enumerate(a, 1):
        before, row[0] = row[0], i
        for j, y in enumerate(b, 1):
            before, row[j] = row[j], min(row[j] + 1, row[j - 1] + 1, before + (x != y))
    return row[-1]


class Watch:
    """Strips of tune that never change, at three degrees of hardness."""

    def __init__(self, file: dict, atlas: code_strips.Atlas, device: torch.device):
        self.sets = []
        codes = iter(code_strips.Codes(file, 1, 512, 99, blends=False))
        for hardness in (0.0, 0.5, 1.0):
            generator = torch.Generator(device).manual_seed(7)
            some = []
            for _ in range(WATCHED // 512):
                table, ends, labels, lengths, _ = next(codes)
                ink, grey = code_strips.strips(atlas, torch.from_numpy(table).to(device),
                                               torch.from_numpy(ends).to(device), generator, hardness)
                some.append((ink, grey, [row[:n].tolist() for row, n in zip(labels[:, 0], lengths)]))
            self.sets.append((hardness, some))

    @torch.no_grad()
    def report(self, net: code_net.Net) -> list[str]:
        net.eval()
        lines = []
        for hardness, some in self.sets:
            swaps: collections.Counter = collections.Counter()
            right = texts = wrong = letters = void = invented = 0
            for ink, _, truth in some:
                for said, meant in zip(greedy(net(ink)), truth):
                    if meant:
                        texts += 1
                        right += said == meant
                        letters += len(meant)
                        wrong += edits(said, meant)
                        if len(said) == len(meant):
                            swaps.update((a, b) for a, b in zip(meant, said) if a != b)
                    else:
                        void += 1
                        invented += bool(said)
            worst = " ".join(f"{CLASSES[a - 1]}>{CLASSES[b - 1]} {n}" for (a, b), n in swaps.most_common(16))
            lines.append(f"    hardness {hardness:.1f}: exact {100 * right / texts:5.1f} %, letters wrong "
                         f"{100 * wrong / letters:5.2f} %, read where nothing is {100 * invented / void:5.1f} %; {worst}")
        return lines


def write(out: pathlib.Path, net: code_net.Net, watch: Watch, say) -> None:
    net.eval()
    size = code_net.save(net, out / "code.bin")
    ink, grey, truth = watch.sets[1][1][0]
    step = len(ink) // PROBES
    ink, grey, truth = ink[::step][:PROBES], grey[::step][:PROBES], truth[::step][:PROBES]
    # The probe's views are kept in bytes, so that both sides read the same numbers.
    ink8 = torch.cat([ink[:, :1] * 255, ink[:, 1:] * 127.5 + 127.5], 1).round().to(torch.uint8)
    back = torch.cat([ink8[:, :1].float() / 255, ink8[:, 1:].float() / 127.5 - 1], 1)
    given = code_net.run(out / "code.bin", back)
    whole = F.log_softmax(net(back), 1).cpu()
    texts = ["".join(CLASSES[c - 1] for c in t) for t in truth]
    # Grey strips and their views without a mask.
    grey8 = (grey * 255).round().to(torch.uint8)
    bare = code_strips.views(grey8.float() / 255, torch.ones_like(grey))
    np.savez_compressed(out / "code-probe.npz", views=ink8.cpu().numpy(), scores=given.numpy().astype(np.float32),
                        grey=grey8[:, 0].cpu().numpy(), bare=bare.cpu().numpy().astype(np.float32),
                        texts=np.array(texts))
    sheet = watch.sets[2][1][0]
    np.savez_compressed(out / "code-sheet.npz", grey=(sheet[1][:160, 0] * 255).to(torch.uint8).cpu().numpy(),
                        ink=(sheet[0][:160, 0] * 255).to(torch.uint8).cpu().numpy(),
                        texts=np.array(["".join(CLASSES[c - 1] for c in t) for t in sheet[2][:160]]))
    off = (given.exp() - whole.exp()).abs().max().item()
    say(f"code.bin {size} bytes; half precision moves no probability of the probe by more than {off:.4f}")


def main() -> None:
    chosen = options()
    out = pathlib.Path(chosen.out)
    out.mkdir(parents=True, exist_ok=True)
    log = open(out / "code-log.txt", "a", encoding="utf-8")

    def say(text: str) -> None:
        print(text, flush=True)
        log.write(text + "\n")
        log.flush()

    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    torch.manual_seed(chosen.seed)
    torch.backends.cudnn.benchmark = True
    started = time.monotonic()

    def minutes() -> float:
        return (time.monotonic() - started) / 60

    file = np.load(chosen.atlas)
    file = {key: file[key] for key in file.files}
    atlas = code_strips.Atlas(file, device)
    net = code_net.Net().to(device, memory_format=torch.channels_last)
    if chosen.begin:
        restore(net, chosen.begin, net.head)
    average = copy.deepcopy(net)
    state = torch.load(chosen.resume, map_location=device) if chosen.resume else None
    if state:
        net.load_state_dict(state["net"])
        average.load_state_dict(state["average"])
    mine, theirs = zip(*[(a, b) for a, b in zip(average.state_dict().values(), net.state_dict().values())
                         if a.is_floating_point()])
    decayed = [p for p in net.parameters() if p.dim() > 1]
    plain = [p for p in net.parameters() if p.dim() <= 1]
    optimiser = torch.optim.AdamW([{"params": decayed, "weight_decay": DECAY},
                                   {"params": plain, "weight_decay": 0.0}], lr=PEAK_RATE)
    if chosen.begin_at:
        optimiser.load_state_dict(state["optimiser"])
    weights, work = code_net.cost(net, 160)
    say(f"torch {torch.__version__} on {torch.cuda.get_device_name() if device.type == 'cuda' else 'cpu'}; "
        f"{weights / 1e6:.2f} M weights, {work / 1e6:.0f} M multiply-adds for 160 pixels; {vars(chosen)}")
    generator = torch.Generator(device).manual_seed(chosen.seed)
    supply = Supply(chosen, file, atlas, generator)
    watch = Watch(file, atlas, device)
    if chosen.begin or chosen.resume:
        say("before, tune:")
        for line in watch.report(average):
            say(line)
    step, next_watch, since, seen = 0, chosen.watch_every, time.monotonic(), []
    net.train(not chosen.begin)
    peak = LATER_RATE if chosen.begin else RESUMED_RATE if state else PEAK_RATE
    # A schedule that goes on has the peak that it began with.
    peak = state.get("peak", PEAK_RATE) if chosen.begin_at else peak
    end_at = chosen.end_at or chosen.minutes
    held = Held(generator)
    while chosen.begin_at + minutes() < end_at:
        gone = (chosen.begin_at + minutes()) / chosen.minutes
        rate = min(1.0, (step + 1) / WARM_STEPS) * (0.005 + 0.995 * 0.5 * (1 + math.cos(math.pi * gone)))
        for group in optimiser.param_groups:
            group["lr"] = peak * rate
        for _ in range(FIRST if step == 0 else step % chosen.times == 0):
            held.add(*supply.strips())
        ink, texts, lengths, chances = held.draw(chosen.batch)
        ink = ink.float().contiguous(memory_format=torch.channels_last)
        with torch.autocast(device.type, dtype=torch.bfloat16):
            scores = net(ink)
        loss = loss_of(scores, texts, lengths, chances)
        optimiser.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(net.parameters(), 3.0)
        optimiser.step()
        step += 1
        with torch.no_grad():
            torch._foreach_lerp_(mine, theirs, 1 - min(AVERAGE, (1 + step) / (10 + step)))
        seen.append(loss.detach())
        if step % 200 == 0 or step in (1, 20):
            pace = len(seen) / (time.monotonic() - since)
            say(f"{minutes():6.2f} min  step {step:6d}  loss {torch.stack(seen).mean().item():.3f}  {pace:.1f} steps/s")
            seen, since = [], time.monotonic()
        if minutes() >= next_watch:
            say(f"{minutes():6.2f} min  step {step}, tune:")
            for line in watch.report(average):
                say(line)
            next_watch, since = minutes() + chosen.watch_every, time.monotonic()
    say(f"{minutes():6.2f} min  step {step}, the end, tune:")
    for line in watch.report(average):
        say(line)
    torch.save({"net": net.state_dict(), "average": average.state_dict(), "optimiser": optimiser.state_dict(),
                "peak": peak},
               out / "code-state.pt")
    write(out, average, watch, say)


if __name__ == "__main__":
    main()
