"""What a trained finder does on photos it was not trained on: places found, scenes, and the tool's rule."""

import math

import numpy as np
import torch

from finder_net import SCENES, peaks

BATCH = 64
# The tool's limits (`src/verdict/situation.rs`): no underside, bare, and a place that forbids bare.
OTHER, BARE, PLACE = 0.6, 0.5, 0.7
# Limits that are tried for the table.
TRIED = [(o, b, p) for o in (0.5, 0.6, 0.7, 0.8, 0.9) for b in (0.4, 0.5, 0.6, 0.7) for p in (0.4, 0.5, 0.6, 0.7, 0.8)]
MOST_LOST = 0.01


@torch.no_grad()
def answers(net, views, names, device):
    """Rows: group, scene, three probabilities, best score, and whether the mark is among one, three, five."""
    maps, marks, _, scenes = views[:4]
    net.eval()
    rows = []
    for i in range(0, len(maps), BATCH):
        grid, logits = net(maps[i : i + BATCH].to(device).float() / 255)
        grid, said = grid.float().cpu(), logits.float().softmax(1).cpu().tolist()
        for j, g in enumerate(grid):
            found = peaks(g)
            x, y, r = marks[i + j].tolist()
            good = [r > 0 and math.hypot(f[1] - x, f[2] - y) < 0.25 * r and 0.75 < f[3] / r < 1.33 for f in found]
            rows.append((names[i + j], int(scenes[i + j]), *said[j], found[0][0], good[0], any(good[:3]), any(good)))
    return rows


def ruled(rows, other=OTHER, bare=BARE, place=PLACE):
    """What the tool would say where no family fits: 0 marked, 1 bare, 2 no underside; one a row."""
    p = np.array([r[2:6] for r in rows])
    return np.where(p[:, 2] > other, 2, np.where((p[:, 1] > bare) & (p[:, 3] < place), 1, 0))


def table(rows) -> list[str]:
    """A line a group."""
    lines, said = [], ruled(rows)
    for name in sorted({r[0] for r in rows}):
        mine = [i for i, r in enumerate(rows) if r[0] == name]
        some = [rows[i] for i in mine]
        scores = np.quantile([r[5] for r in some], (0.05, 0.5, 0.95))
        mean = np.mean([r[2:5] for r in some], 0)
        text = f"  {name:12s} n {len(some):4d}  score 5, 50, 95 %: " + " ".join(f"{s:.2f}" for s in scores)
        text += "  mean " + " ".join(f"{s} {v:.2f}" for s, v in zip(SCENES, mean))
        text += "  ruled " + " ".join(f"{100 * np.mean(said[mine] == k):5.1f}" for k in range(3))
        if some[0][1] == 0:
            text += "  found in 1, 3, 5: " + " ".join(f"{100 * np.mean([r[k] for r in some]):5.1f}" for k in (6, 7, 8))
        lines.append(text)
    return lines


def limits(rows) -> list[str]:
    """The rule's rates at several limits, those that lose few marks first."""
    scene, out = np.array([r[1] for r in rows]), []
    for tried in [(OTHER, BARE, PLACE), *TRIED]:
        said = ruled(rows, *tried)
        lost = np.mean(said[scene == 0] != 0)
        rates = (lost, np.mean(said[scene == 1] == 1), np.mean(said[scene == 2] == 2), np.mean(said[scene == 2] == 0))
        out.append((tried, rates))
    first, rest = out[0], sorted(out[1:], key=lambda t: (t[1][0] > MOST_LOST, -t[1][1] - t[1][2]))[:6]
    return [f"  other {o} bare {b} place {p}:  marked lost {100 * r[0]:.1f}  bare known {100 * r[1]:.1f}"
            f"  other known {100 * r[2]:.1f}  other taken for marked {100 * r[3]:.1f}" for (o, b, p), r in [first, *rest]]
