"""The finder's net, its file, and the reading of its answers.

From a whole photo's overview the net gives, for each cell of CELL pixels, how likely a mark's middle lies
there, the middle's offset from the cell's in cells, and the natural logarithm of the radius of the circle
around the mark's corners in pixels; and, for the whole photo, which of SCENES it shows, from its coarsest
and its finest maps pooled over the frame.
"""

import math

import torch
import torch.nn.functional as F
from torch import nn

from net import POWER, Block, Conv, folded, pooled, refill, write
from overview import SQUARE

SCENES = ("marked", "bare", "other")
CELL = 8
GRID = SQUARE // CELL
WIDTHS = (12, 24, 48, 72, 96)
NECK = 40
HIDDEN = 48
# The second pooling of the finest maps, nearly a maximum: one small mark in a wide frame counts.
PEAK_POWER = 6.0
# Largest logarithm of a radius that is read.
LOG_RADIUS_MOST = 5.5


class Finder(nn.Module):
    """Overview maps (N, 3, SQUARE, SQUARE) to (N, 4, GRID, GRID): score, dx, dy, log radius; and to the
    logits of SCENES (N, 3)."""

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
        self.hidden = nn.Linear(w[4] + 2 * NECK, HIDDEN)
        self.scene = nn.Linear(HIDDEN, len(SCENES))

    def forward(self, x):
        x3 = self.down3(self.down2(self.stem(x)))
        x4 = self.down4(x3)
        x5 = self.down5(x4)
        up = lambda t: t.repeat_interleave(2, 2).repeat_interleave(2, 3)  # noqa: E731
        y4 = self.join4(F.relu(self.side4(x4) + up(self.side5(x5))))
        y3 = self.join3(F.relu(self.side3(x3) + up(y4)))
        # Powers need single precision: a map in bf16 has to be widened, not only taken out of autocast.
        with torch.autocast(x.device.type, enabled=False):
            coarse, fine = x5.float(), y3.float()
            seen = torch.cat([pooled(coarse), pooled(fine), pooled(fine, PEAK_POWER)], 1)
            return self.head(fine), self.scene(F.relu(self.hidden(seen)))


def describe(net: Finder):
    """Header entries and numbers of the folded net, in the format of net.py; the answer is the grid's four
    maps and then the scene's logits."""
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
    grid = conv(net.head, y3, False)

    def gem(source, power):
        out.append(({"op": "gem", "from": source, "p": power}, []))
        return len(out)

    def join(*sources):
        out.append(({"op": "join", "from": list(sources)}, []))
        return len(out)

    seen = join(gem(x5, POWER), gem(y3, POWER), gem(y3, PEAK_POWER))
    out.append(({"op": "conv", "from": seen, "cin": net.hidden.in_features, "cout": HIDDEN, "k": 1, "stride": 1,
                 "pad": 0, "relu": True, "add": None}, [net.hidden.weight, net.hidden.bias]))
    out.append(({"op": "linear", "from": [len(out)], "in": HIDDEN, "out": len(SCENES)},
                [net.scene.weight, net.scene.bias]))
    join(grid, len(out))
    return out


def save(net: Finder, path) -> int:
    """Writes the file of weights; returns its size in bytes."""
    return write(path, describe(net), input=[3, SQUARE, SQUARE], output=4 * GRID**2 + len(SCENES))


def peaks(given, most=5):
    """Best cells of one photo's grid (4, GRID, GRID): (score, x, y, r), no two within half a radius."""
    score = given[0].sigmoid()
    order = score.flatten().argsort(descending=True)[:200].tolist()
    found = []
    for i in order:
        gy, gx = divmod(i, GRID)
        x, y = (gx + 0.5 + given[1, gy, gx].item()) * CELL, (gy + 0.5 + given[2, gy, gx].item()) * CELL
        r = math.exp(min(given[3, gy, gx].item(), LOG_RADIUS_MOST))
        if all(math.hypot(x - f[1], y - f[2]) > 0.5 * max(r, f[3]) for f in found):
            found.append((score[gy, gx].item(), x, y, r))
        if len(found) == most:
            break
    return found


def restore(net: Finder, path) -> None:
    """Puts the folded weights of a file back; batch norms pass everything on unchanged."""
    trunk = [net.stem, net.down2, net.down3, net.down4, net.down5, net.side5, net.side4, net.join4, net.side3, net.join3]
    modules = [m for part in trunk for m in part.modules() if isinstance(m, Conv)]
    refill(modules, path, net.head, net.hidden, net.scene)
