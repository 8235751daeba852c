"""The second look's net and its file: colours of a place, with the ground around it, to the log-odds of a mark.

What it sees is defined here for training and in src/mark/second_look.rs for use; second_look_probe.py writes the
places on which the two are compared.
"""

import torch
from torch import nn

from inkmap import lab
from net import Block, Conv, POWER, folded, pooled, write

SIDE = 128
FILL = 0.64  # share of the side that the place's circle fills
REACH = 20.0
WIDTHS = (16, 32, 64, 96)


def channels(rgb: torch.Tensor, inside: torch.Tensor) -> torch.Tensor:
    """sRGB 0..1 (N, 3, SIDE, SIDE) and inside (N, 1, SIDE, SIDE) to what the net reads (N, 4, SIDE, SIDE)."""
    known = (inside > 0.5).float()
    colour = lab(rgb)
    flat = torch.where(known > 0, colour, torch.full_like(colour, float("nan"))).flatten(2)
    middle = flat.nanmedian(2).values.nan_to_num()[..., None, None]
    return torch.cat([torch.tanh((colour - middle) / REACH) * known, known], 1)


class SecondLook(nn.Module):
    """Channels (N, 4, SIDE, SIDE) to log-odds (N,)."""

    def __init__(self):
        super().__init__()
        stages = [Conv(4, WIDTHS[0], 5, 2)]
        for before, after in zip(WIDTHS, WIDTHS[1:]):
            stages += [Conv(before, after, 3, 2), Block(after)]
        self.stages = nn.Sequential(*stages)
        self.head = nn.Linear(WIDTHS[-1], 1)

    def forward(self, x: torch.Tensor) -> torch.Tensor:
        x = self.stages(x)
        # Powers need single precision.
        with torch.autocast(x.device.type, enabled=False):
            return self.head(pooled(x.float()))[:, 0]


def save(net: SecondLook, path) -> int:
    """Writes the file of weights; returns its size in bytes."""
    out = []

    def conv(module, source, relu=True, add=None):
        weight, bias = folded(module)
        cout, cin, k, _ = weight.shape
        out.append(({"op": "conv", "from": source, "cin": cin, "cout": cout, "k": k,
                     "stride": module.conv.stride[0], "pad": k // 2, "relu": relu, "add": add}, [weight, bias]))
        return len(out)

    at = 0
    for stage in net.stages:
        if isinstance(stage, Conv):
            at = conv(stage, at)
        else:
            at = conv(stage.wide, conv(stage.middle, conv(stage.narrow, at)), True, at)
    out.append(({"op": "gem", "from": at, "p": POWER}, []))
    out.append(({"op": "linear", "from": [len(out)], "in": WIDTHS[-1], "out": 1}, [net.head.weight, net.head.bias]))
    return write(path, out, input=[4, SIDE, SIDE], output=1)
