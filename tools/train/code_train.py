"""Trains the reader of codes.

    python3 tools/train/code_train.py --atlas target/train/glyphs.npz --out DIR --minutes 8 --seed 1

Needs torch and numpy, this folder and the atlas. Writes to DIR: code-log.txt, code.bin (see
code_net.py), code-probe.npz, and code-sheet.npz, strips to look at. The learning rate
follows the clock. `--split 0` trains on fonts of fit and watches those of tune; `--split 2`
trains on both, and what it prints of tune is then no test. `--from code.bin` goes on from
folded weights: batch norms stay as they are folded. `--cuts FILE` takes a sixteenth of each batch
from photos (code_cuts.py). `--resume code-state.pt` goes on from where another run ended.
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
# The same when going on from another run.
RESUMED_RATE = 2e-3
DECAY = 0.03
WARM_STEPS = 300
AVERAGE = 0.998
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
    parser.add_argument("--from", dest="begin", help="folded weights to go on from")
    parser.add_argument("--resume", help="code-state.pt of an earlier run to go on from")
    parser.add_argument("--cuts", help="codes cut out of photos of the fit split")
    parser.add_argument("--watch-every", type=float, default=2.0, help="minutes")
    return parser.parse_args()


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
        codes = iter(code_strips.Codes(file, 1, 512, 99))
        for hardness in (0.0, 0.5, 1.0):
            generator = torch.Generator(device).manual_seed(7)
            some = []
            for _ in range(WATCHED // 512):
                table, ends, flat, lengths = next(codes)
                ink, grey = code_strips.strips(atlas, torch.from_numpy(table).to(device),
                                               torch.from_numpy(ends).to(device), generator, hardness)
                texts, at = [], 0
                for n in lengths:
                    texts.append([int(c) for c in flat[at : at + n]])
                    at += n
                some.append((ink, grey, texts))
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
    if chosen.resume:
        state = torch.load(chosen.resume, map_location=device)
        net.load_state_dict(state["net"])
        average.load_state_dict(state["average"])
    mine, theirs = zip(*[(a, b) for a, b in zip(average.state_dict().values(), net.state_dict().values())
                         if a.is_floating_point()])
    decayed = [p for p in net.parameters() if p.dim() > 1]
    plain = [p for p in net.parameters() if p.dim() <= 1]
    optimiser = torch.optim.AdamW([{"params": decayed, "weight_decay": DECAY},
                                   {"params": plain, "weight_decay": 0.0}], lr=PEAK_RATE)
    weights, work = code_net.cost(net, 160)
    say(f"torch {torch.__version__} on {torch.cuda.get_device_name() if device.type == 'cuda' else 'cpu'}; "
        f"{weights / 1e6:.2f} M weights, {work / 1e6:.0f} M multiply-adds for 160 pixels; {vars(chosen)}")
    cuts = code_cuts.Cuts(chosen.cuts, device) if chosen.cuts else None
    cut_out = chosen.batch // 16 if cuts else 0
    codes = code_strips.Codes(file, chosen.split, chosen.batch - cut_out, chosen.seed)
    loader = torch.utils.data.DataLoader(codes, batch_size=None, num_workers=chosen.workers,
                                         prefetch_factor=4 if chosen.workers else None)
    generator = torch.Generator(device).manual_seed(chosen.seed)
    watch = Watch(file, atlas, device)
    if chosen.begin or chosen.resume:
        say("before, tune:")
        for line in watch.report(average):
            say(line)
    step, next_watch, since, seen = 0, chosen.watch_every, time.monotonic(), []
    net.train(not chosen.begin)
    peak = LATER_RATE if chosen.begin else RESUMED_RATE if chosen.resume else PEAK_RATE
    for table, ends, flat, lengths in loader:
        gone = minutes() / chosen.minutes
        if gone >= 1:
            break
        rate = min(1.0, (step + 1) / WARM_STEPS) * (0.005 + 0.995 * 0.5 * (1 + math.cos(math.pi * gone)))
        for group in optimiser.param_groups:
            group["lr"] = peak * rate
        ink, _ = code_strips.strips(atlas, torch.as_tensor(table).to(device), torch.as_tensor(ends).to(device),
                                    generator)
        flat, lengths = torch.as_tensor(flat), torch.as_tensor(lengths)
        if cuts:
            more, texts = cuts.strips(cut_out, generator)
            ink = torch.cat([ink, more])
            flat = torch.cat([flat, torch.tensor([c for text in texts for c in text])])
            lengths = torch.cat([lengths, torch.tensor([len(text) for text in texts])])
        ink = ink.contiguous(memory_format=torch.channels_last)
        with torch.autocast(device.type, dtype=torch.bfloat16):
            scores = net(ink)
        columns = F.log_softmax(scores.float(), 1).permute(2, 0, 1)
        full = torch.full((len(ink),), columns.shape[0], dtype=torch.long, device=device)
        lengths = lengths.to(device)
        loss = F.ctc_loss(columns, flat.to(device), full, lengths, reduction="none", zero_infinity=True)
        # Each strip counts alike, a long one a little more.
        loss = (loss / lengths.clamp_min(1).float().sqrt()).mean()
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
    torch.save({"net": net.state_dict(), "average": average.state_dict()}, out / "code-state.pt")
    write(out, average, watch, say)


if __name__ == "__main__":
    main()
