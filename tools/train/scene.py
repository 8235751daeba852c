"""Adds to a trained finder what a whole photo shows: a marked underside, a bare one, or neither.

    python3 tools/train/scene.py --finder finder.bin --lots LOT [LOT ...] --watch LOT [LOT ...] --out finder.bin

The finder stays as it is; its coarsest and its finest maps are pooled (generalised mean) and a layer of
HIDDEN numbers tells three cases apart. Lots are kiln's, of the *fit* split, those to watch of *tune*.
Every photo is taken as it is and VIEWS times turned, scaled, dimmed and partly hidden, as in finder.py.
Runs on a processor in some ten minutes. Needs torch and torchvision.
"""

import argparse
import json
import pathlib

import numpy as np
import torch
import torch.nn.functional as F
from torch import nn

import finder
from net import POWER, pooled

SCENES = ("marked", "bare", "other")
HIDDEN = 32
VIEWS = 5
STEPS = 1500
MARKED = ("known", "unknown", "unknown-sibling")
BATCH = 32


class Trunk:
    """The finder up to its head, from its file."""

    def __init__(self, path):
        raw = pathlib.Path(path).read_bytes()
        end = raw.index(b"\n")
        self.header = json.loads(raw[:end])
        self.data = raw[end + 1 :]
        numbers = torch.from_numpy(np.frombuffer(self.data, "<f2").astype(np.float32))
        self.layers, at = [], 0
        for layer in self.header["layers"]:
            if layer["op"] == "conv":
                shape = (layer["cout"], layer["cin"], layer["k"], layer["k"])
                count = int(np.prod(shape))
                self.layers.append((layer, numbers[at : at + count].reshape(shape), numbers[at + count : at + count + layer["cout"]]))
                at += count + layer["cout"]
            else:
                self.layers.append((layer, None, None))
        # The coarsest map is what the last conv before the first `double` reads through a side branch.
        first = next(i for i, layer in enumerate(self.header["layers"]) if layer["op"] == "double")
        self.coarse = self.header["layers"][first - 1]["from"]
        self.fine = self.header["layers"][-1]["from"]

    @torch.no_grad()
    def features(self, maps):
        tensors = [maps]
        for layer, weight, bias in self.layers[:-1]:
            x = tensors[layer["from"]]
            if layer["op"] == "double":
                tensors.append(x.repeat_interleave(2, 2).repeat_interleave(2, 3))
                continue
            y = F.conv2d(x, weight, bias, layer["stride"], layer["pad"])
            if layer["add"] is not None:
                y = y + tensors[layer["add"]]
            tensors.append(F.relu(y) if layer["relu"] else y)
        return torch.cat([pooled(tensors[self.coarse]), pooled(tensors[self.fine])], 1)


def seen(trunk, lots, views):
    """Features and scenes; views of which nothing can be said are left out."""
    maps, marks, others, truths = finder.load(lots, "cpu")
    scenes = torch.tensor([0 if t["kind"] in MARKED else 1 if t["kind"] == "bare" else 2 for t in truths])
    rows, labels, whole = [], [], []
    for view in range(views + 1):
        for i in range(0, len(maps), BATCH):
            batch, m = maps[i : i + BATCH].float() / 255, marks[i : i + BATCH]
            if view:
                batch, m, _ = finder.augmented(batch, m, others[i : i + BATCH], torch.device("cpu"))
            edge = finder.SQUARE - 8
            kept = ~((m[:, 2] > 4) & ((m[:, :2] < 8).any(1) | (m[:, :2] > edge).any(1)))
            rows.append(trunk.features(batch)[kept])
            labels.append(scenes[i : i + BATCH][kept])
            whole += [t for t, k in zip(truths[i : i + BATCH], kept) if k]
    return torch.cat(rows), torch.cat(labels), whole


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--finder", required=True)
    parser.add_argument("--lots", nargs="+", required=True)
    parser.add_argument("--watch", nargs="+", required=True)
    parser.add_argument("--out", required=True)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    torch.manual_seed(options.seed)
    trunk = Trunk(options.finder)
    rows, labels, _ = seen(trunk, options.lots, VIEWS)
    print(f"{len(rows)} views, by scene {np.bincount(labels).tolist()}", flush=True)
    watched, truth, facts = seen(trunk, options.watch, 0)
    middle, spread = rows.mean(0), rows.std(0).clamp_min(1e-3)
    head = nn.Sequential(nn.Linear(rows.shape[1], HIDDEN), nn.ReLU(), nn.Dropout(0.2), nn.Linear(HIDDEN, len(SCENES)))
    optimiser = torch.optim.AdamW(head.parameters(), 2e-3, weight_decay=0.05)
    schedule = torch.optim.lr_scheduler.CosineAnnealingLR(optimiser, STEPS)
    weight = len(labels) / (3.0 * torch.bincount(labels).float())
    for _ in range(STEPS):
        pick = torch.randint(len(rows), (256,))
        given = head((rows[pick] - middle) / spread)
        loss = F.cross_entropy(given, labels[pick], weight, label_smoothing=0.02)
        optimiser.zero_grad()
        loss.backward()
        optimiser.step()
        schedule.step()
    head.eval()
    with torch.no_grad():
        said = head((watched - middle) / spread).softmax(1).numpy()
    groups = {}
    for fact, p in zip(facts, said):
        groups.setdefault(fact["condition"] if fact["kind"] in MARKED else fact["kind"], []).append(p)
    for name, ps in sorted(groups.items()):
        ps = np.array(ps)
        share = " ".join(f"{scene} {100 * (ps[:, k] > 0.5).mean():5.1f} ({100 * (ps[:, k] > 0.8).mean():5.1f})" for k, scene in enumerate(SCENES))
        print(f"  {name:12s} n {len(ps):4d}  per cent above 0.5 (0.8): {share}")
    # Means and spreads go into the first layer.
    first = head[0].weight.detach() / spread
    bias = head[0].bias.detach() - first @ middle
    layers = trunk.header["layers"]
    places = len(layers)
    added = [
        {"op": "gem", "from": trunk.coarse, "p": POWER},
        {"op": "gem", "from": trunk.fine, "p": POWER},
        {"op": "join", "from": [places + 1, places + 2]},
        {"op": "conv", "from": places + 3, "cin": rows.shape[1], "cout": HIDDEN, "k": 1, "stride": 1, "pad": 0, "relu": True, "add": None},
        {"op": "linear", "from": [places + 4], "in": HIDDEN, "out": len(SCENES)},
        {"op": "join", "from": [places, places + 5]},
    ]
    trunk.header["layers"] = layers + added
    trunk.header["output"] = 4 * finder.GRID**2 + len(SCENES)
    numbers = [first, bias, head[3].weight.detach(), head[3].bias.detach()]
    data = np.concatenate([t.numpy().ravel() for t in numbers]).astype("<f2").tobytes()
    text = json.dumps(trunk.header, separators=(",", ":")).encode() + b"\n"
    pathlib.Path(options.out).write_bytes(text + trunk.data + data)


if __name__ == "__main__":
    main()
