"""Where the mark stands on the piece, and from where the photo is taken."""

import dataclasses

import numpy as np

from . import camera as cameras
from . import ware as wares
from .design import Drawing
from .scene import Place
from .shot import Shot

Rng = np.random.Generator
# A phone does not focus nearer than this, in units of the piece.
NEAREST = 0.35
# Cameras tried before the mark is put in the middle; the room in pixels that a mark has to the photo's edge.
TRIES, EDGE = 40, 12
# What a photo of a piece without a mark takes in: all of it, all within the foot ring, a part of that.
WHOLE, FOOT, PART = "whole", "foot", "part"


def frame(rng: Rng) -> tuple[int, int]:
    """Width and height of a photo, as phones send them on: upright or lying, 4 to 3."""
    long = int(rng.choice([1280, 1440, 1600]))
    return (long * 3 // 4, long) if rng.random() < 0.7 else (long, long * 3 // 4)


def points(ware: wares.Ware, place: Place, u: np.ndarray, v: np.ndarray) -> np.ndarray:
    """Places in space of shares of a flat thing's picture."""
    x, y = place.outside(np.asarray(u, float), np.asarray(v, float))
    return np.stack([x, y, ware.height(np.float32(x), np.float32(y))], -1)


def put(ware: wares.Ware, drawing: Drawing, shot: Shot, rng: Rng) -> Place:
    """Where the mark stands on the base: within the foot ring unless it is to cross it."""
    room = ware.feet[0] * min(ware.a, ware.b)
    size = room * float(rng.uniform(0.22, 0.4) if shot.small else rng.uniform(0.5, 1.05))
    turn = float(
        rng.uniform(0, 2 * np.pi)
        if ware.power == 2 and ware.b == 1
        else rng.integers(4) * np.pi / 2 + rng.normal(0, 0.04)
    )
    h, w = drawing.mask.shape
    reach = size * np.hypot(h, w) / max(h, w) / 2
    if shot.across_ring:
        far, at = ware.foot * rng.uniform(0.88, 1.08), rng.uniform(0, 2 * np.pi)
        size *= 0.75
        return Place(far * np.cos(at) * ware.a, far * np.sin(at) * ware.b, turn, size, (h, w))
    far, at = max(0.0, room * 0.93 - reach) * np.sqrt(rng.random()) * 0.8, rng.uniform(0, 2 * np.pi)
    size *= min(1.0, room * 0.93 / reach)
    return Place(float(far * np.cos(at)), float(far * np.sin(at)), turn, size, (h, w))


def aim(ware: wares.Ware, place: Place | None, shot: Shot, rng: Rng, view: str) -> cameras.Camera:
    """A camera such that the mark is in the frame as the shot wants it; without a mark, as `view` says."""
    width, height = frame(rng)
    focal = max(width, height) * rng.uniform(0.74, 0.95)
    tilt, azimuth = np.radians(shot.tilt), rng.uniform(0, 2 * np.pi)
    roll = rng.normal(0, 0.16) if rng.random() < 0.65 else rng.uniform(0, 2 * np.pi)
    distortion = rng.normal(0, 0.012)
    cam = cameras.Camera(width, height, focal, (0.0, 0.0, 0.0), 1.0, tilt, azimuth, roll, distortion)
    if place is None:
        return _over_base(cam, ware, rng, view)
    distance = max(focal * place.size / (shot.share * width), NEAREST)
    cam = dataclasses.replace(cam, distance=distance, roll=roll + place.turn)
    corners = points(ware, place, np.array([0, 1, 1, 0]), np.array([0, 0, 1, 1]))
    middle = corners.mean(0)
    for attempt in range(TRIES):
        # First looks between the mark and the middle of the piece, then closer and closer at the mark.
        if attempt < TRIES // 4:
            target = middle * (rng.random(), rng.random(), 1)
        else:
            loose = 0.3 * distance * (1 - attempt / (TRIES - 1))
            target = middle + loose * np.append(rng.uniform(-1, 1, 2), 0)
        cam = dataclasses.replace(cam, target=tuple(target))
        if shot.hidden_by == "frame":
            return cut_off(cam, corners, shot.hidden, rng)
        px = cam.project(corners)
        if ((px > EDGE) & (px < (width - EDGE, height - EDGE))).all():
            return cam
    return dataclasses.replace(cam, target=tuple(middle))


def _over_base(cam: cameras.Camera, ware: wares.Ware, rng: Rng, view: str) -> cameras.Camera:
    """Takes in the whole piece, or all within its foot ring but not its rim, or less."""
    across = 2.15 * (1.0 if view == WHOLE else ware.foot) * rng.uniform(1.05, 1.5 if view == WHOLE else 1.15)
    distance = cam.focal * across / min(cam.width, cam.height) * (0.45 if view == PART else 1.0)
    off, turn = ware.foot if view == PART else 0.0, rng.uniform(0, 2 * np.pi)
    return dataclasses.replace(cam, distance=distance, target=(off * np.cos(turn), off * np.sin(turn), 0.0))


def cut_off(cam: cameras.Camera, corners: np.ndarray, share: float, rng: Rng) -> cameras.Camera:
    """Moves the camera until about `share` of the mark lies beyond one edge of the frame."""
    _, right, down, _ = cam.axes()
    way = [right, -right, down, -down][rng.integers(4)] * (1, 1, 0)
    grid = np.linspace(0, 1, 24)
    u, v = (g.ravel()[:, None] for g in np.meshgrid(grid, grid))
    cells = (1 - u) * (1 - v) * corners[0] + u * (1 - v) * corners[1] + u * v * corners[2] + (1 - u) * v * corners[3]
    low, high = 0.0, 3.0
    cam = dataclasses.replace(cam, target=tuple(corners.mean(0)))
    for _ in range(18):
        far = (low + high) / 2
        moved = dataclasses.replace(cam, target=tuple(corners.mean(0) + way * far * cam.distance))
        px = moved.project(cells)
        out = 1 - ((px > 0) & (px < (cam.width, cam.height))).all(1).mean()
        low, high = (far, high) if out < share else (low, far)
    return moved


def holds(ware: wares.Ware, cam: cameras.Camera, rho: float) -> bool:
    """Whether the line at an outline coordinate (1 is the rim, `ware.foot` the foot ring) is all in the frame."""
    turns = np.linspace(0, 2 * np.pi, 90)
    c, s = np.cos(turns), np.sin(turns)
    k = rho / (np.abs(c) ** ware.power + np.abs(s) ** ware.power) ** (1 / ware.power)
    height = np.full_like(c, ware.profile[ware.place(np.array(rho))])
    px = cam.project(np.stack([k * c * ware.a, k * s * ware.b, height], -1))
    return bool(((px > 0) & (px < (cam.width, cam.height))).all())


def beside(place: Place, ware: wares.Ware, shape: tuple[int, int], size: float, rng: Rng) -> Place:
    """A place on the base that does not touch the mark, or hardly."""
    turn = rng.uniform(0, 2 * np.pi)
    for far in np.linspace(0.55, 1.3, 16):
        turn += 0.9
        x, y = place.x + far * place.size * np.cos(turn), place.y + far * place.size * np.sin(turn)
        u, v = (float(p) for p in place.inside(np.float32(x), np.float32(y)))
        away = max(abs(u - place.shape[1] / 2), abs(v - place.shape[0] / 2)) / max(place.shape) * place.size
        room = size * 0.5 + 0.4 * place.size * min(1, place.shape[0] / place.shape[1])
        if away > room and float(ware.rho(np.float32(x), np.float32(y))) < 0.95:
            break
    return Place(float(x), float(y), place.turn + rng.normal(0, 0.25), size, shape)
