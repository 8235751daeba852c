"""Draws laid-out marks as coverage masks, a whole batch at a time on the device."""

import math

import numpy as np
import torch
import torch.nn.functional as F

import layout

# Side of the canvas a mark is drawn on; the unit circle nearly fills it.
CANVAS = 256
REACH = 1.04  # half of the canvas's side, in the mark's frame
STRIP_WIDE = 512


class Atlas:
    """The masks on the device: icons (N, 1, 128, 128) and strips (M, 1, 32, 512), uint8."""

    def __init__(self, file, device: torch.device):
        self.scale = 1.0 / float(file["levels"])
        self.icons = torch.from_numpy(file["icons"])[:, None].to(device)
        widths = file["strip_width"]
        ends = np.cumsum(widths)
        padded = np.zeros((len(widths), 1, layout.STRIP_HIGH, STRIP_WIDE), np.uint8)
        ribbon = file["strips"]
        for i, (end, width) in enumerate(zip(ends, widths)):
            padded[i, 0, :, :width] = ribbon[:, end - width : end]
        self.strips = torch.from_numpy(padded).to(device)
        self.width = torch.from_numpy(widths.astype(np.float32)).to(device)

    def take(self, tiles: torch.Tensor, index: torch.Tensor) -> torch.Tensor:
        """Chosen tiles as coverage 0..1."""
        return tiles[index].float() * self.scale


def canvas_points(device: torch.device) -> torch.Tensor:
    """Frame coordinates (CANVAS, CANVAS, 2) of the canvas's pixel centres."""
    at = (torch.arange(CANVAS, device=device) + 0.5) * (2 * REACH / CANVAS) - REACH
    ys, xs = torch.meshgrid(at, at, indexing="ij")
    return torch.stack([xs, ys], -1)


def local(rows: torch.Tensor, points: torch.Tensor) -> tuple[torch.Tensor, torch.Tensor]:
    """Coordinates of the canvas in each element's own turned frame, not yet scaled."""
    c, s = rows[:, 8].cos()[:, None, None], rows[:, 8].sin()[:, None, None]
    x = points[..., 0] - rows[:, 4, None, None]
    y = points[..., 1] - rows[:, 5, None, None]
    return c * x + s * y, c * y - s * x


def icons(atlas: Atlas, rows: torch.Tensor, points: torch.Tensor) -> torch.Tensor:
    u, v = local(rows, points)
    grid = torch.stack([u / rows[:, 6, None, None], v / rows[:, 7, None, None]], -1)
    return F.grid_sample(atlas.take(atlas.icons, rows[:, 3].long()), grid, align_corners=False)


def strip_grid(atlas: Atlas, rows: torch.Tensor, u: torch.Tensor, v: torch.Tensor) -> torch.Tensor:
    """Texture coordinates of a strip: u, v in -1..1 over its own width and height."""
    share = (atlas.width[rows[:, 3].long()] / STRIP_WIDE)[:, None, None]
    return torch.stack([(u + 1) * share - 1, v], -1)


def straight(atlas: Atlas, rows: torch.Tensor, points: torch.Tensor) -> torch.Tensor:
    u, v = local(rows, points)
    grid = strip_grid(atlas, rows, u / rows[:, 6, None, None], v / rows[:, 7, None, None])
    return F.grid_sample(atlas.take(atlas.strips, rows[:, 3].long()), grid, align_corners=False)


def arcs(atlas: Atlas, rows: torch.Tensor, points: torch.Tensor) -> torch.Tensor:
    x = points[..., 0] - rows[:, 4, None, None]
    y = points[..., 1] - rows[:, 5, None, None]
    signed = rows[:, 9, None, None]
    side = signed.sign()
    # Clockwise from the top for text over the arc, anticlockwise from the bottom under it.
    turn = torch.atan2(x, -side * y)
    distance = (x * x + y * y + 1e-9).sqrt()
    u = turn * signed.abs() / rows[:, 6, None, None]
    v = side * (signed.abs() - distance) / rows[:, 7, None, None]
    grid = strip_grid(atlas, rows, u, v)
    return F.grid_sample(atlas.take(atlas.strips, rows[:, 3].long()), grid, align_corners=False)


def frames(_: Atlas, rows: torch.Tensor, points: torch.Tensor) -> torch.Tensor:
    """Frames by (nearly) signed distance; the shape is chosen element by element."""
    x, y = local(rows, points)
    w, h = rows[:, 6, None, None].abs(), rows[:, 7, None, None]
    extra = rows[:, 12, None, None]
    shape = rows[:, 3, None, None].long()
    low = torch.minimum(w, h)
    nx, ny = x / w, y / h
    radius = (nx * nx + ny * ny + 1e-9).sqrt()
    slope = ((nx / w) ** 2 + (ny / h) ** 2 + 1e-9).sqrt() / radius
    ellipse = (radius - 1) / slope
    bend = torch.where(shape == layout.RIBBON, extra * low * (1 - nx * nx), torch.zeros_like(nx))
    corner = torch.where(shape == layout.BOX, extra.clamp(0, 1), torch.zeros_like(extra)) * low
    qx, qy = x.abs() - w + corner, (y + bend).abs() - h + corner
    outside = (qx.clamp_min(0) ** 2 + qy.clamp_min(0) ** 2 + 1e-12).sqrt()
    box = outside + torch.maximum(qx, qy).clamp_max(0) - corner
    diamond = (nx.abs() + ny.abs() - 1) * (w * h / (w * w + h * h).sqrt())
    # A shield: straight sides above the middle, two arcs meeting in a point below.
    side = torch.where(ny > -0.1, (nx.abs() + 0.6) ** 2 + ((ny + 0.1) * 1.13) ** 2 - 2.56, 2.56 * (nx.abs() - 1))
    shield = torch.maximum(side / 3.2, -ny - 1) * low
    corners = extra.clamp_min(3)
    step = 2 * math.pi / corners
    turn = torch.remainder(torch.atan2(nx, ny) + step / 2, step) - step / 2
    polygon = (radius * turn.cos() - (step / 2).cos()) * low
    d = ellipse
    for kind, other in ((layout.BOX, box), (layout.RIBBON, box), (layout.DIAMOND, diamond),
                        (layout.SHIELD, shield), (layout.POLYGON, polygon)):
        d = torch.where(shape == kind, other, d)
    stroke = rows[:, 10, None, None]
    d = torch.where(stroke > 0, d.abs() - stroke, d)
    return (0.5 - d * (CANVAS / (2 * REACH))).clamp(0, 1)[:, None]


DRAWERS = {layout.ICON: icons, layout.STRAIGHT: straight, layout.ARC: arcs, layout.FRAME: frames}


def draw(atlas: Atlas, table: np.ndarray, count: int, device: torch.device) -> torch.Tensor:
    """Coverage (count, 1, CANVAS, CANVAS) of a batch's marks.

    The table is sorted by slot, then kind; a slot holds at most one element of a
    mark, so that the elements of one slot and kind are drawn in one go.
    """
    canvas = torch.zeros(count, 1, CANVAS, CANVAS, device=device)
    points = canvas_points(device)
    keys = table[:, 0] * 4 + table[:, 1]
    rows = torch.from_numpy(table)
    if device.type == "cuda":
        rows = rows.pin_memory()
    rows = rows.to(device, non_blocking=True)
    edges = np.flatnonzero(np.diff(keys)) + 1
    for start, end in zip([0, *edges], [*edges, len(keys)]):
        some = rows[start:end]
        ink = DRAWERS[int(table[start, 1])](atlas, some, points)
        marks = some[:, 2].long()
        knock = some[:, 11, None, None, None]
        there = canvas[marks]
        canvas[marks] = torch.where(knock > 0, there * (1 - ink), torch.maximum(there, ink))
    return canvas
