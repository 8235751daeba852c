"""Takes one photo and says what is true of it."""

import dataclasses

import cv2
import numpy as np

from . import camera as cameras
from . import emblem, scene, strike, things, ware as wares
from .design import IMPRESSED, INKS, Drawing, Family
from .noise import Noise
from .scene import Place, Surface
from .sheet import Sheet
from .shot import Shot

Rng = np.random.Generator
# Grid on which it is counted how much of a mark is seen.
GRID = 72
# Share of fresh ink that the eye can still follow, the highest mirror light against white that does not drown it.
SEEN_INK, DROWNED = 0.12, 0.55


@dataclasses.dataclass
class Picture:
    # 8-bit RGB, upright.
    rgb: np.ndarray
    ware: wares.Ware
    # Corners of the mark's box in pixels, its own top left first, clockwise; None without a mark.
    quad: list[list[float]] | None
    whole_base: bool
    light_on_dark: bool
    means: str | None
    ink: str | None
    # Shares of the mark's and of the tell's ink that is seen.
    seen: float = 0.0
    tell_seen: float = 0.0
    # Height of the tell's letters, and the extent of all blur, in pixels.
    letters: float = 0.0
    blurred: float = 0.0
    # Contrast of the tell against the noise over one stroke.
    clear: float = 0.0
    measured: dict = dataclasses.field(default_factory=dict)


def _frame(rng: Rng) -> tuple[int, int]:
    long = int(rng.choice([1280, 1440, 1600]))
    return (long * 3 // 4, long) if rng.random() < 0.7 else (long, long * 3 // 4)


def _put(ware: wares.Ware, drawing: Drawing, shot: Shot, rng: Rng) -> Place:
    """Where the mark stands on the base: within the foot ring unless it is to cross it."""
    room = ware.feet[0] * min(ware.a, ware.b)
    size = room * float(rng.uniform(0.22, 0.4) if shot.small else rng.uniform(0.5, 1.05))
    turn = float(rng.uniform(0, 2 * np.pi) if ware.power == 2 and ware.b == 1 else rng.integers(4) * np.pi / 2 + rng.normal(0, 0.04))
    h, w = drawing.mask.shape
    reach = size * np.hypot(h, w) / max(h, w) / 2
    if shot.across_ring:
        far, at = ware.foot * rng.uniform(0.88, 1.08), rng.uniform(0, 2 * np.pi)
        size *= 0.75
        return Place(far * np.cos(at) * ware.a, far * np.sin(at) * ware.b, turn, size, (h, w))
    far, at = max(0.0, room * 0.93 - reach) * np.sqrt(rng.random()) * 0.8, rng.uniform(0, 2 * np.pi)
    size *= min(1.0, room * 0.93 / reach)
    return Place(float(far * np.cos(at)), float(far * np.sin(at)), turn, size, (h, w))


def _points(ware: wares.Ware, place: Place, u: np.ndarray, v: np.ndarray) -> np.ndarray:
    """Places in space of shares of a flat thing's picture."""
    x, y = place.outside(np.asarray(u, float), np.asarray(v, float))
    return np.stack([x, y, ware.height(np.float32(x), np.float32(y))], -1)


def _aim(ware: wares.Ware, place: Place | None, shot: Shot, rng: Rng, whole: bool) -> cameras.Camera:
    """A camera such that the mark, or the whole base, is in the frame as the shot wants it."""
    width, height = _frame(rng)
    focal = max(width, height) * rng.uniform(0.74, 0.95)
    tilt, azimuth = np.radians(shot.tilt), rng.uniform(0, 2 * np.pi)
    roll = rng.normal(0, 0.16) if rng.random() < 0.65 else rng.uniform(0, 2 * np.pi)
    distortion = rng.normal(0, 0.012)
    if place is None:
        need = 2.15 * (ware.foot if ware.kind != wares.TOP else 1.0) * rng.uniform(1.05, 1.5)
        distance = focal * need / min(width, height) * (1.0 if whole else 0.45)
        off = 0.0 if whole else ware.foot
        turn = rng.uniform(0, 2 * np.pi)
        return cameras.Camera(width, height, focal, (off * np.cos(turn), off * np.sin(turn), 0.0), distance, tilt, azimuth, roll, distortion)
    distance = max(focal * place.size / (shot.share * width), 0.35)
    corners = _points(ware, place, np.array([0, 1, 1, 0]), np.array([0, 0, 1, 1]))
    middle = corners.mean(0)
    cut = shot.hidden if shot.hidden_by == "frame" else None
    for attempt in range(40):
        # First looks between the mark and the middle of the piece, then closer and closer at the mark.
        loose = 0.3 * distance * (1 - attempt / 39)
        target = middle * (rng.random(), rng.random(), 1) if attempt < 10 else middle + loose * np.append(rng.uniform(-1, 1, 2), 0)
        cam = cameras.Camera(width, height, focal, tuple(target), distance, tilt, azimuth, roll + place.turn, distortion)
        px = cam.project(corners)
        inside = ((px > 12) & (px < (width - 12, height - 12))).all()
        if cut is None and inside:
            return cam
        if cut is not None:
            break
    if cut is None:
        return dataclasses.replace(cam, target=tuple(middle))
    return _cut(cam, corners, cut, rng)


def _cut(cam: cameras.Camera, corners: np.ndarray, share: float, rng: Rng) -> cameras.Camera:
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


def _whole(ware: wares.Ware, cam: cameras.Camera) -> bool:
    """Whether the outermost foot ring is in the frame with a little room around it."""
    turns = np.linspace(0, 2 * np.pi, 90)
    c, s = np.cos(turns), np.sin(turns)
    k = ware.foot * 1.03 / (np.abs(c) ** ware.power + np.abs(s) ** ware.power) ** (1 / ware.power)
    px = cam.project(np.stack([k * c * ware.a, k * s * ware.b, np.zeros_like(c)], -1))
    return bool(((px > 0) & (px < (cam.width, cam.height))).all())


def _beside(place: Place, ware: wares.Ware, shape: tuple[int, int], size: float, rng: Rng) -> Place:
    """A place on the base that does not touch the mark, or hardly."""
    turn = rng.uniform(0, 2 * np.pi)
    for far in np.linspace(0.55, 1.3, 16):
        turn += 0.9
        x, y = place.x + far * place.size * np.cos(turn), place.y + far * place.size * np.sin(turn)
        u, v = place.inside(np.float32(x), np.float32(y))
        clear = max(abs(float(u) / place.shape[1] - 0.5) * place.shape[1], abs(float(v) / place.shape[0] - 0.5) * place.shape[0]) / max(place.shape) * place.size
        if clear > size * 0.5 + 0.4 * place.size * min(1, place.shape[0] / place.shape[1]) and float(ware.rho(np.float32(x), np.float32(y))) < 0.95:
            break
    return Place(float(x), float(y), place.turn + rng.normal(0, 0.25), size, shape)


def _tops(ware: wares.Ware, s: Surface, rng: Rng) -> None:
    """Decorates a front: lines on the rim, a border that repeats, something in the middle."""
    sheets = []
    colours = [INKS[str(name)] for name in rng.choice(list(INKS), 3, replace=False)]
    border, middle, lines = Sheet(), Sheet(), Sheet()
    n, seed = int(rng.integers(6, 22)), int(rng.integers(1 << 30))
    kind = emblem.EMBLEMS[[3, 4, 9, 17][rng.integers(4)]]
    for k in range(n):
        t = 2 * np.pi * k / n
        kind(border.at(0.82 * np.cos(t), 0.82 * np.sin(t), 0.11), np.random.default_rng(seed))
    for r in rng.uniform(0.56, 0.97, int(rng.integers(1, 4))):
        lines.ring(r, rng.uniform(0.008, 0.03))
    if rng.random() < 0.6:
        emblem.EMBLEMS[[3, 4, 4, 9, 15][rng.integers(5)]](middle.at(0, 0, rng.uniform(0.25, 0.5)), rng)
    for sheet, colour, often in ((border, colours[0], 0.8), (middle, colours[1], 1.0), (lines, colours[2], 0.9)):
        if rng.random() < often:
            sheets.append((sheet.shrunk(), colour))
    for mask, colour in sheets:
        k = np.float32(mask.shape[0] / 3.2)
        amount = cv2.remap(mask, (s.x / ware.a + 1.6) * k, (s.y / ware.b + 1.6) * k, cv2.INTER_LINEAR)
        s.colour *= np.power(np.float32(colour), 0.9 * amount[..., None])


def _distract(s: Surface, ware: wares.Ware, place: Place, thing: str, pixels: float, rng: Rng) -> None:
    if thing == "pencil price":
        art = things.writing(f"{rng.integers(2, 90)}/{rng.choice(['-', '6', '9'])}", (0.22, 0.22, 0.24), rng)
    elif thing == "handwritten number":
        art = things.writing(str(rng.integers(100, 99999)), [(0.45, 0.06, 0.05), (0.05, 0.05, 0.06), (0.05, 0.08, 0.35)][rng.integers(3)], rng, 2)
    elif thing == "repair staple":
        art = things.staple(rng)
    else:
        art = things.sticker(rng, thing)
    size = place.size * float(rng.uniform(0.4, 0.8))
    scene.lay_on(s, art, _beside(place, ware, art.shape[:2], size, rng), pixels * size / place.size)


def _seen(drawing: Drawing, ink: np.ndarray, margin: float, ware: wares.Ware, place: Place, cam: cameras.Camera, lost: np.ndarray) -> tuple[float, float]:
    """Shares of the mark's and the tell's ink that took and is neither hidden, drowned, nor out of the frame."""
    c = (np.arange(GRID) + 0.5) / GRID
    u, v = (g.ravel() for g in np.meshgrid(c, c))
    px = cam.project(_points(ware, place, u, v))
    h, w = lost.shape
    inside = ((px > 0) & (px < (w - 1, h - 1))).all(1)
    at = np.clip(px, 0, (w - 1, h - 1)).astype(int)
    fresh = cv2.resize(drawing.mask, (GRID, GRID), interpolation=cv2.INTER_AREA).ravel()
    m = round(margin * max(drawing.mask.shape))
    took = cv2.resize(np.minimum(ink[m:-m, m:-m], drawing.mask * 1.4), (GRID, GRID), interpolation=cv2.INTER_AREA).ravel()
    good = inside & (took > SEEN_INK * fresh) & (lost[at[:, 1], at[:, 0]] < 0.5)
    left, top, right, bottom = drawing.tell
    tell = fresh * ((u >= left) & (u <= right) & (v >= top) & (v <= bottom))
    return float((fresh * good).sum() / max(fresh.sum(), 1e-6)), float((tell * good).sum() / max(tell.sum(), 1e-6))


def _cover(rgb: np.ndarray, s: Surface, shot: Shot, place: Place, quad: np.ndarray, rng: Rng) -> tuple[np.ndarray, np.ndarray]:
    """A finger over a part of the mark; the picture and what is hidden."""
    centre, side = quad.mean(0), np.linalg.norm(quad[1] - quad[0]) + np.linalg.norm(quad[3] - quad[0])
    h, w = rgb.shape[:2]
    away = rng.uniform(0, 2 * np.pi)
    way = np.array([np.cos(away), np.sin(away)])
    radius = max(0.1 * min(w, h), 0.24 * side) * rng.uniform(0.85, 1.15)
    box = np.zeros((h, w), np.uint8)
    cv2.fillConvexPoly(box, np.int32(quad), 1)
    seed = int(rng.integers(1 << 30))
    low, high = -0.6 * side, 0.8 * side
    for _ in range(7):
        far = (low + high) / 2
        tip = centre + way * far
        root = tip + way * 2 * max(h, w)
        cover, colour, shadow = things.thumb((h, w), (float(tip[0]), float(tip[1])), (float(root[0]), float(root[1])), float(radius), np.random.default_rng(seed))
        share = float((cover * box).sum() / max(box.sum(), 1))
        low, high = (low, far) if share < shot.hidden else (far, high)
    rgb = rgb * (1 - shadow * (1 - cover))[..., None]
    lit = np.quantile(rgb[::9, ::9].max(-1), 0.6) / 0.75
    return rgb * (1 - cover)[..., None] + colour * lit * cover[..., None], cover


def take(shot: Shot, rng: Rng, kind: str, family: Family | None, drawing: Drawing | None, whole: bool = True) -> Picture:
    """A photo of a piece with the mark of a family, of a bare one (`kind` bare) or of a front (`kind` top)."""
    means = family.means if family else None
    dark = family is not None and means not in (IMPRESSED,) and rng.random() < 0.09
    glaze = str(rng.choice(wares.DARK)) if dark else str(rng.choice(["white", "cream", "ivory", "celadon"], p=[0.36, 0.27, 0.25, 0.12]))
    if (family is None and rng.random() < 0.12) or (means == IMPRESSED and rng.random() < 0.25):
        glaze = str(rng.choice(wares.DARK))
    form = wares.TOP if kind == "top" else (wares.HOLLOW if shot.hollow or (not shot.across_ring and rng.random() < 0.12) else wares.OPEN)
    ware = wares.make(rng, form, glaze, shot.dirt)
    place = _put(ware, drawing, shot, rng) if drawing else None
    cam = _aim(ware, place, shot, rng, whole)
    noise = Noise(rng)
    s = scene.trace(ware, cam)
    eye = cam.axes()[0]
    at = np.array([place.x, place.y, 0.0]) if place else np.zeros(3)
    look = eye - at
    size = place.size * np.sqrt(min(place.shape) / max(place.shape)) if place else ware.foot
    light = scene.choose_light(shot, rng, (-look[0] / look[2], -look[1] / look[2]), size / look[2])
    scene.glaze(ware, s, noise, light.waves)
    if form == wares.TOP:
        _tops(ware, s, rng)
    quad, pixels, ink, margin = None, 1.0, None, 0.0
    lost = np.zeros(s.x.shape, np.float32)
    if place:
        corners = _points(ware, place, np.array([0, 1, 1, 0]), np.array([0, 0, 1, 1]))
        quad = cam.project(corners)
        pixels = float(max(np.linalg.norm(quad[1] - quad[0]), np.linalg.norm(quad[3] - quad[0])))
        mask, margin = strike.padded(drawing.mask)
        depth = 0.0
        if means == IMPRESSED:
            ink, depth = strike.relief(mask, shot.strike, rng), float(rng.uniform(0.35, 0.75)) * min(1.0, shot.strike.density)
        else:
            ink = strike.apply(mask, means, shot.strike, rng)
        scene.put_mark(s, ink, place, margin, family, dark, pixels, depth)
        if shot.hidden_by == "sticker":
            art = things.sticker(rng, "price sticker")
            lost = np.maximum(lost, _stick(s, art, place, shot.hidden, pixels, rng))
        for thing in shot.distractors:
            if thing in things.DISTRACTORS:
                _distract(s, ware, place, thing, pixels, rng)
    ground = things.table(str(rng.choice(things.BACKGROUNDS)), s.x, s.y, rng)
    if rng.random() < 0.3:
        ground = _others(ground, s, rng)
    rgb, mirror = scene.shade(ware, s, light, ground, noise)
    rgb = rgb * scene.overall_shadow(s, rng)[..., None]
    lost = np.maximum(lost, (mirror > DROWNED).astype(np.float32))
    glare = 0.0
    if quad is not None:
        box = np.zeros(lost.shape, np.uint8)
        cv2.fillConvexPoly(box, np.int32(quad), 1)
        glare = float((mirror > DROWNED)[box > 0].mean()) if box.any() else 0.0
        if shot.hidden_by == "thumb":
            rgb, cover = _cover(rgb, s, shot, place, quad, rng)
            lost = np.maximum(lost, cover)
    radius, moved = shot.defocus * pixels, shot.shake * pixels
    if place is None:
        radius, moved = shot.defocus * 0.35 * cam.width, shot.shake * 0.35 * cam.width
    rgb = np.minimum(rgb, 6.0)
    if radius > 0.4:
        rgb = cv2.filter2D(rgb, -1, cameras.disc(radius))
    if moved > 1:
        rgb = cv2.filter2D(rgb, -1, cameras.shake(moved, rng))
    done = cameras.develop(rgb, shot.sensor, rng)
    whole_base = _whole(ware, cam)
    picture = Picture(done, ware, None if quad is None else [[float(x), float(y)] for x, y in quad], whole_base, dark, means, family.ink if family else None)
    if place:
        picture.seen, picture.tell_seen = _seen(drawing, ink, margin, ware, place, cam, lost)
        _legible(picture, drawing, family, shot, pixels, radius, moved)
    picture.measured = {
        "tilt_deg": round(shot.tilt, 1), "blur_px": round(2 * radius + moved, 2), "glare": round(glare, 3), "seen": round(picture.seen, 3),
        "tell_seen": round(picture.tell_seen, 3), "letters_px": round(picture.letters, 1), "clear": round(picture.clear, 2),
        "mark_share": round(pixels / cam.width, 3), "electrons": round(shot.sensor.electrons), "exposure": round(shot.sensor.exposure, 3),
    }
    return picture


def _stick(s: Surface, art: np.ndarray, place: Place, share: float, pixels: float, rng: Rng) -> np.ndarray:
    """A sticker over about `share` of the mark, from one side."""
    h, w = (n / max(place.shape) * place.size for n in place.shape)
    size = float(np.clip(np.sqrt(share) * 1.25, 0.35, 1.0)) * max(h, w)
    turn = rng.uniform(0, 2 * np.pi)
    u, v = 0.5 + np.cos(turn) * (1.05 - share) * 0.6, 0.5 + np.sin(turn) * (1.05 - share) * 0.6
    x, y = place.outside(np.float32(u), np.float32(v))
    at = Place(float(x), float(y), place.turn + rng.normal(0, 0.4), size, art.shape[:2])
    return scene.lay_on(s, art, at, pixels * size / place.size)


def _others(ground: np.ndarray, s: Surface, rng: Rng) -> np.ndarray:
    """Other things on the table: round and square ones, out of the piece's way."""
    for _ in range(int(rng.integers(1, 4))):
        turn, far, size = rng.uniform(0, 2 * np.pi), rng.uniform(1.5, 2.4), rng.uniform(0.2, 0.6)
        x, y = s.x - np.float32(far * np.cos(turn)), s.y - np.float32(far * np.sin(turn))
        away = np.hypot(x, y) if rng.random() < 0.6 else np.maximum(np.abs(x), np.abs(y) * 1.6)
        cover = (away < size).astype(np.float32)[..., None]
        ring = 1 - 0.25 * np.exp(-(((away - size * 0.75) / 0.02) ** 2))
        halo = 1 - 0.5 * np.exp(-np.clip(away - size, 0, 9) / 0.07)
        ground = ground * (1 - cover) * halo[..., None] + cover * np.float32(rng.uniform(0.08, 0.8, 3)) * ring[..., None]
    return ground


def _legible(picture: Picture, drawing: Drawing, family: Family, shot: Shot, pixels: float, radius: float, moved: float) -> None:
    """Size, blur and contrast of the letters that tell the family from its siblings."""
    h, w = (n / max(drawing.mask.shape) * pixels for n in drawing.mask.shape)
    left, top, right, bottom = drawing.tell
    letters = min((bottom - top) * h, 1.5 * (right - left) * w / max(len(family.line), 1)) * np.cos(np.radians(shot.tilt))
    picture.letters = float(letters)
    picture.blurred = 2 * radius + moved + (shot.strike.smear + shot.strike.double) * pixels
    light = 0.6 if picture.light_on_dark else 1 - float(np.mean(INKS[family.ink]))
    if picture.means == IMPRESSED:
        light = 0.25
    level = shot.sensor.exposure * 0.8
    noise = np.sqrt(level * shot.sensor.electrons + shot.sensor.read**2) / shot.sensor.electrons
    picture.clear = float(level * light * shot.strike.density / noise * max(letters / 6, 0.3))
