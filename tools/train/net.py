"""The descriptor's network, its folded form, and the file of weights.

Only convolutions with bias, ReLU, addition, generalised-mean pooling and one
linear layer are left after folding.  `weights.bin` is one line of JSON, a newline,
then the numbers as little-endian half precision in the order of the header:

    {"format": 1, "input": [2, 160, 160], "output": 128, "layers": [...]}

Tensor 0 is the input, tensor i + 1 what layer i gives.  Layers:

    conv    from, cin, cout, k, stride, pad, relu, add (a tensor, or null):
            y = conv(x) + bias (+ tensor `add`), then ReLU if `relu`;
            weights [cout][cin][ky][kx], then bias [cout]; zero padding
    gem     from, p: per channel (mean over pixels of max(x, 1e-6)^p)^(1/p)
    linear  from (a list: tensors flattened channel, row, column and joined), in, out;
            weights [out][in], then bias [out]
    unit    from: divided by its Euclidean length
    double  from: each pixel becomes 2 x 2
    join    from (a list): tensors flattened channel, row, column and joined
"""

import json

import numpy as np
import torch
import torch.nn.functional as F
from torch import nn

# Channels of the five scales (80, 40, 20, 10 and 5 pixels), and blocks at the last four.
WIDTHS = (20, 40, 88, 160, 256)
BLOCKS = (1, 2, 2, 2)
OUTPUT = 128
# Channels kept for the layout of the mark (a 5 x 5 grid beside the pooled vector).
GRID = 32
POWER = 3.0
LEAST = 1e-6


class Conv(nn.Module):
    """Convolution, batch norm, and ReLU where asked for."""

    def __init__(self, cin: int, cout: int, k: int, stride: int = 1, relu: bool = True):
        super().__init__()
        self.conv = nn.Conv2d(cin, cout, k, stride, k // 2, bias=False)
        self.norm = nn.BatchNorm2d(cout)
        self.relu = relu

    def forward(self, x: torch.Tensor) -> torch.Tensor:
        x = self.norm(self.conv(x))
        return F.relu(x) if self.relu else x


class Block(nn.Module):
    """A residual bottleneck."""

    def __init__(self, width: int):
        super().__init__()
        self.narrow = Conv(width, width // 2, 1)
        self.middle = Conv(width // 2, width // 2, 3)
        self.wide = Conv(width // 2, width, 1, relu=False)
        nn.init.zeros_(self.wide.norm.weight)

    def forward(self, x: torch.Tensor) -> torch.Tensor:
        return F.relu(x + self.wide(self.middle(self.narrow(x))))


def pooled(x: torch.Tensor, power: float = POWER) -> torch.Tensor:
    """Generalised mean over the pixels."""
    return x.clamp_min(LEAST).pow(power).mean((2, 3)).pow(1 / power)


class Net(nn.Module):
    """Ink and validity (N, 2, 160, 160) to unit vectors (N, OUTPUT)."""

    def __init__(self):
        super().__init__()
        self.stem = Conv(2, WIDTHS[0], 5, 2)
        stages = []
        for before, after, blocks in zip(WIDTHS, WIDTHS[1:], BLOCKS):
            stages += [Conv(before, after, 3, 2), *[Block(after) for _ in range(blocks)]]
        self.stages = nn.Sequential(*stages)
        self.grid = Conv(WIDTHS[-1], GRID, 1)
        self.head = nn.Linear(WIDTHS[-1] + GRID * 25, OUTPUT)

    def forward(self, x: torch.Tensor) -> torch.Tensor:
        x = self.stages(self.stem(x))
        with torch.autocast(x.device.type, enabled=False):
            x = x.float()
            return F.normalize(self.head(torch.cat([pooled(x), self.grid(x).flatten(1)], 1)), dim=1)


def folded(conv: Conv) -> tuple[torch.Tensor, torch.Tensor]:
    """Weights and bias with the batch norm inside."""
    norm = conv.norm
    gain = norm.weight / (norm.running_var + norm.eps).sqrt()
    return conv.conv.weight * gain[:, None, None, None], norm.bias - norm.running_mean * gain


def layers(net: Net) -> list[tuple[dict, list[torch.Tensor]]]:
    """Header entries and numbers of the folded net, in order."""
    out: list[tuple[dict, list[torch.Tensor]]] = []

    def conv(module: Conv, source: int, relu: bool = True, add: int | None = None) -> int:
        weight, bias = folded(module)
        cout, cin, k, _ = weight.shape
        out.append(({"op": "conv", "from": source, "cin": cin, "cout": cout, "k": k,
                     "stride": module.conv.stride[0], "pad": k // 2, "relu": relu, "add": add}, [weight, bias]))
        return len(out)

    at = conv(net.stem, 0)
    for stage in net.stages:
        if isinstance(stage, Conv):
            at = conv(stage, at)
        else:
            inner = conv(stage.middle, conv(stage.narrow, at))
            at = conv(stage.wide, inner, True, at)
    out.append(({"op": "gem", "from": at, "p": POWER}, []))
    pool = len(out)
    grid = conv(net.grid, at)
    out.append(({"op": "linear", "from": [pool, grid], "in": net.head.in_features, "out": OUTPUT},
                [net.head.weight, net.head.bias]))
    out.append(({"op": "unit", "from": len(out)}, []))
    return out


def write(path, described, **head) -> int:
    """Writes a file of weights: `head` and the layers' entries, then their numbers. Returns its size in bytes."""
    header = {"format": 1, **head, "layers": [entry for entry, _ in described]}
    numbers = [torch.as_tensor(t).detach().float().cpu().numpy().ravel() for _, some in described for t in some]
    data = json.dumps(header, separators=(",", ":")).encode() + b"\n" + np.concatenate(numbers).astype("<f2").tobytes()
    with open(path, "wb") as file:
        file.write(data)
    return len(data)


def restore(net: nn.Module, path, *heads: nn.Module) -> None:
    """Puts folded weights back into a net whose convolutions lie in the file in the order of its modules, the
    `heads` behind them; its batch norms pass everything on unchanged."""
    refill([m for m in net.modules() if hasattr(m, "conv") and hasattr(m, "norm")], path, *heads)


def refill(modules: list[nn.Module], path, *heads: nn.Module) -> None:
    """The same for modules in the order of the file."""
    with open(path, "rb") as file:
        file.readline()
        numbers = torch.from_numpy(np.frombuffer(file.read(), "<f2").astype(np.float32))
    at = 0

    def fill(tensor: torch.Tensor) -> None:
        nonlocal at
        at += tensor.numel()
        tensor.copy_(numbers[at - tensor.numel() : at].reshape(tensor.shape))

    with torch.no_grad():
        for module in modules:
            fill(module.conv.weight)
            fill(module.norm.bias)
            module.norm.weight.fill_(1)
            module.norm.running_mean.fill_(0)
            module.norm.running_var.fill_(1 - module.norm.eps)
        for head in heads:
            fill(head.weight)
            fill(head.bias)
    assert at == len(numbers), "the weights are of another net"


def save(net: Net, path) -> int:
    """Writes weights.bin; returns its size in bytes."""
    return write(path, layers(net), input=[2, 160, 160], output=OUTPUT)


def run(path, maps: torch.Tensor) -> torch.Tensor:
    """The vectors that a file of weights gives; float32, layer by layer as described above."""
    with open(path, "rb") as file:
        header = json.loads(file.readline())
        numbers = torch.from_numpy(np.frombuffer(file.read(), "<f2").astype(np.float32))
    at = 0

    def take(*shape: int) -> torch.Tensor:
        nonlocal at
        count = int(np.prod(shape))
        at += count
        return numbers[at - count : at].reshape(shape)

    tensors = [maps.float().cpu()]
    for layer in header["layers"]:
        if layer["op"] == "conv":
            weight = take(layer["cout"], layer["cin"], layer["k"], layer["k"])
            x = tensors[layer["from"]]
            x = x[:, :, None, None] if x.dim() == 2 else x
            y = F.conv2d(x, weight, take(layer["cout"]), layer["stride"], layer["pad"])
            if layer["add"] is not None:
                y = y + tensors[layer["add"]]
            tensors.append(F.relu(y) if layer["relu"] else y)
        elif layer["op"] == "join":
            tensors.append(torch.cat([tensors[i].flatten(1) for i in layer["from"]], 1))
        elif layer["op"] == "double":
            tensors.append(tensors[layer["from"]].repeat_interleave(2, 2).repeat_interleave(2, 3))
        elif layer["op"] == "gem":
            tensors.append(pooled(tensors[layer["from"]], layer["p"]))
        elif layer["op"] == "linear":
            joined = torch.cat([tensors[i].flatten(1) for i in layer["from"]], 1)
            weight = take(layer["out"], layer["in"])
            tensors.append(joined @ weight.T + take(layer["out"]))
        else:
            tensors.append(F.normalize(tensors[layer["from"]], dim=1))
    return tensors[-1]


def cost(net: Net) -> tuple[int, int]:
    """Weights, and multiply-adds for one crop."""
    sides = [160]
    total = weights = 0
    for entry, some in layers(net):
        weights += sum(t.numel() for t in some)
        if entry["op"] == "conv":
            side = sides[entry["from"]] // entry["stride"]
            total += side * side * some[0].numel()
            sides.append(side)
        else:
            total += some[0].numel() if some else 0
            sides.append(1)
    return weights, total
