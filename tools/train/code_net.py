"""The reader of codes: the network, its folded form, and the file of weights.

Two views of a strip (its ink, and how much each pixel differs from what is near it), 32 rows high and
as wide as it is, become one column of scores for every two pixels: score 0 for "nothing here", then one for each class (connectionist temporal
classification, Graves and others 2006). Only convolutions with bias, ReLU and addition are
left after folding. The file is that of `net.py`: one line of JSON, a newline, then the
numbers as little-endian half precision, layer by layer:

    {"format": 1, "input": [2, 32, 0], "output": CLASSES + 1, "classes": "...", "layers": [...]}

A width of 0 stands for any. In layers of this net `k`, `stride` and `pad` are pairs
[rows, columns].
"""

import json

import numpy as np
import torch
import torch.nn.functional as F
from torch import nn

from code_glyphs import CLASSES
from net import write

HIGH = 32
# Pixels of the strip for one column of scores.
STEP = 2
WIDTHS = (24, 48, 96, 192)
NARROW = 96
VIEWS = 2


class Conv(nn.Module):
    """Convolution, batch norm, and ReLU where asked for."""

    def __init__(self, cin: int, cout: int, k: tuple[int, int], stride: tuple[int, int] = (1, 1),
                 pad: tuple[int, int] | None = None, relu: bool = True):
        super().__init__()
        pad = (k[0] // 2, k[1] // 2) if pad is None else pad
        self.conv = nn.Conv2d(cin, cout, k, stride, pad, bias=False)
        self.norm = nn.BatchNorm2d(cout)
        self.relu = relu

    def forward(self, x: torch.Tensor) -> torch.Tensor:
        x = self.norm(self.conv(x))
        return F.relu(x) if self.relu else x


class Block(nn.Module):
    """A residual block: two convolutions, or a bottleneck of three."""

    def __init__(self, *convs: Conv):
        super().__init__()
        self.convs = nn.Sequential(*convs)
        nn.init.zeros_(convs[-1].norm.weight)

    def forward(self, x: torch.Tensor) -> torch.Tensor:
        return F.relu(x + self.convs(x))


def plain(width: int) -> Block:
    return Block(Conv(width, width, (3, 3)), Conv(width, width, (3, 3), relu=False))


def narrow(width: int, inner: int, k: tuple[int, int]) -> Block:
    return Block(Conv(width, inner, (1, 1)), Conv(inner, inner, k), Conv(inner, width, (1, 1), relu=False))


class Net(nn.Module):
    """Views (N, 2, 32, W) to scores (N, CLASSES + 1, W / 2), not yet normalised."""

    def __init__(self):
        super().__init__()
        a, b, c, d = WIDTHS
        self.stages = nn.Sequential(
            Conv(VIEWS, a, (5, 5), (2, 2)),
            Conv(a, b, (3, 3), (2, 1)), plain(b),
            Conv(b, c, (3, 3), (2, 1)), narrow(c, c // 2, (3, 3)), narrow(c, c // 2, (3, 3)),
            Conv(c, d, (4, 3), pad=(0, 1)),
            *(narrow(d, NARROW, (1, 5)) for _ in range(4)))
        self.drop = nn.Dropout2d(0.05)
        self.head = nn.Conv2d(d, len(CLASSES) + 1, 1)

    def forward(self, x: torch.Tensor) -> torch.Tensor:
        return self.head(self.drop(self.stages(x)))[:, :, 0]


def folded(conv: Conv) -> tuple[torch.Tensor, torch.Tensor]:
    """Weights and bias with the batch norm inside."""
    norm = conv.norm
    gain = norm.weight / (norm.running_var + norm.eps).sqrt()
    return conv.conv.weight * gain[:, None, None, None], norm.bias - norm.running_mean * gain


def layers(net: Net) -> list[tuple[dict, list[torch.Tensor]]]:
    """Header entries and numbers of the folded net, in order."""
    out: list[tuple[dict, list[torch.Tensor]]] = []

    def put(weight, bias, source, stride, pad, relu, add=None) -> int:
        cout, cin, *k = weight.shape
        out.append(({"op": "conv", "from": source, "cin": cin, "cout": cout, "k": list(k), "stride": list(stride),
                     "pad": list(pad), "relu": relu, "add": add}, [weight, bias]))
        return len(out)

    def conv(module: Conv, source: int, relu: bool, add: int | None = None) -> int:
        return put(*folded(module), source, module.conv.stride, module.conv.padding, relu, add)

    at = 0
    for stage in net.stages:
        if isinstance(stage, Conv):
            at = conv(stage, at, stage.relu)
            continue
        inner = at
        for module in stage.convs[:-1]:
            inner = conv(module, inner, True)
        at = conv(stage.convs[-1], inner, True, at)
    put(net.head.weight, net.head.bias, at, (1, 1), (0, 0), False)
    return out


def save(net: Net, path) -> int:
    """Writes the weights; returns the file's size in bytes."""
    return write(path, layers(net), input=[VIEWS, HIGH, 0], output=len(CLASSES) + 1, classes=CLASSES)


def run(path, ink: torch.Tensor) -> torch.Tensor:
    """Log probabilities (N, CLASSES + 1, columns) that a file of weights gives; float32."""
    with open(path, "rb") as file:
        header = json.loads(file.readline())
        numbers = torch.from_numpy(np.frombuffer(file.read(), "<f2").astype(np.float32))
    at = 0

    def take(*shape: int) -> torch.Tensor:
        nonlocal at
        count = int(np.prod(shape))
        at += count
        return numbers[at - count : at].reshape(shape)

    tensors = [ink.float().cpu()]
    for layer in header["layers"]:
        weight = take(layer["cout"], layer["cin"], *layer["k"])
        y = F.conv2d(tensors[layer["from"]], weight, take(layer["cout"]), layer["stride"], layer["pad"])
        if layer["add"] is not None:
            y = y + tensors[layer["add"]]
        tensors.append(F.relu(y) if layer["relu"] else y)
    return F.log_softmax(tensors[-1][:, :, 0], 1)


def cost(net: Net, wide: int) -> tuple[int, int]:
    """Weights, and multiply-adds for a strip so wide."""
    shapes = [(HIGH, wide)]
    total = weights = 0
    for entry, some in layers(net):
        weights += sum(t.numel() for t in some)
        rows, columns = shapes[entry["from"]]
        k, stride, pad = entry["k"], entry["stride"], entry["pad"]
        shape = tuple((n + 2 * p - j) // s + 1 for n, p, j, s in zip((rows, columns), pad, k, stride))
        total += shape[0] * shape[1] * some[0].numel()
        shapes.append(shape)
    return weights, total
