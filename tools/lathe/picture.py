"""Takes one photo and says what is true of it."""

import dataclasses

import cv2
import numpy as np

from . import camera as cameras
from . import framing, laying, scene, strike, things
from . import ware as wares
from .design import IMPRESSED, INKS, Drawing, Family
from .noise import Noise
from .scene import Place, Surface
from .shot import Shot

Rng = np.random.Generator
# Grid on which it is counted how much of a mark is seen.
GRID = 72
# Share of fresh ink that the eye can still follow, the highest mirror light against white that does not drown it.
SEEN_INK, DROWNED = 0.12, 0.55
# Contrast of an impression against the glaze around it, for want of an ink's.
RELIEF_CONTRAST, LIGHT_INK_CONTRAST = 0.25, 0.6
# A photo without a mark is blurred as if it had one of this share of its width.
NO_MARK_SHARE = 0.35


@dataclasses.dataclass
class Picture:
    # 8-bit RGB, upright.
    rgb: np.ndarray
    ware: wares.Ware
    # Whether all of the piece is in the frame.
    whole_base: bool
    light_on_dark: bool
    means: str | None
    ink: str | None
    # Corners of the mark's box in pixels, its own top left first, clockwise; None without a mark.
    quad: list[list[float]] | None = None
    # Shares of the mark's and of the tell's ink that is seen.
    seen: float = 0.0
    tell_seen: float = 0.0
    # Height of the tell's letters, and the extent of all blur, in pixels.
    letters: float = 0.0
    blurred: float = 0.0
    # Contrast of the tell against the noise over one stroke.
    clear: float = 0.0
    measured: dict = dataclasses.field(default_factory=dict)


@dataclasses.dataclass
class Marked:
    """A mark on the piece: its place, its corners in the photo, its longer side in pixels, what ink took, and the
    margin around that as a share of the longer side."""

    drawing: Drawing
    place: Place
    quad: np.ndarray
    pixels: float
    ink: np.ndarray
    margin: float


def _piece(kind: str, family: Family | None, shot: Shot, rng: Rng) -> tuple[wares.Ware, bool]:
    """A piece, and whether its mark is light on a dark glaze."""
    means = family.means if family else None
    dark = family is not None and means != IMPRESSED and rng.random() < 0.09
    glaze = str(rng.choice(wares.DARK if dark else wares.PALE, p=None if dark else wares.PALE_OFTEN))
    if (family is None and rng.random() < 0.12) or (means == IMPRESSED and rng.random() < 0.25):
        glaze = str(rng.choice(wares.DARK))
    form = wares.OPEN
    if kind == "top":
        form = wares.TOP
    elif shot.hollow or (not shot.across_ring and rng.random() < 0.12):
        form = wares.HOLLOW
    return wares.make(rng, form, glaze, shot.dirt), dark


def _light(ware: wares.Ware, place: Place | None, cam: cameras.Camera, shot: Shot, rng: Rng) -> scene.lights.Light:
    look = cam.axes()[0] - (np.array([place.x, place.y, 0.0]) if place else np.zeros(3))
    size = place.size * np.sqrt(min(place.shape) / max(place.shape)) if place else ware.foot
    return scene.choose_light(shot, rng, (-look[0] / look[2], -look[1] / look[2]), size / look[2])


def _mark(
    s: Surface,
    ware: wares.Ware,
    cam: cameras.Camera,
    place: Place,
    family: Family,
    drawing: Drawing,
    dark: bool,
    shot: Shot,
    rng: Rng,
) -> Marked:
    """Puts the mark on the piece."""
    quad = cam.project(framing.points(ware, place, np.array([0, 1, 1, 0]), np.array([0, 0, 1, 1])))
    pixels = float(max(np.linalg.norm(quad[1] - quad[0]), np.linalg.norm(quad[3] - quad[0])))
    mask, margin = strike.padded(drawing.mask)
    if family.means == IMPRESSED:
        ink = strike.relief(mask, shot.strike, rng)
        depth = float(rng.uniform(0.35, 0.75)) * min(1.0, shot.strike.density)
    else:
        ink, depth = strike.apply(mask, family.means, shot.strike, rng), 0.0
    scene.put_mark(s, ink, place, margin, family, dark, pixels, depth)
    return Marked(drawing, place, quad, pixels, ink, margin)


def _lay_things(s: Surface, ware: wares.Ware, marked: Marked, shot: Shot, rng: Rng) -> np.ndarray:
    """Stickers and writing; what of the photo a sticker on the mark covers."""
    lost = np.zeros(s.x.shape, np.float32)
    if shot.hidden_by == "sticker":
        art = things.sticker(rng, "price sticker")
        lost = laying.stick(s, art, marked.place, shot.hidden, marked.pixels, rng)
    for thing in shot.distractors:
        if thing in things.DISTRACTORS:
            laying.distract(s, ware, marked.place, thing, marked.pixels, rng)
    return lost


def _blur(rgb: np.ndarray, radius: float, moved: float, rng: Rng) -> np.ndarray:
    """The lens out of focus and the hand's shake, in pixels."""
    if radius > 0.4:
        rgb = cv2.filter2D(rgb, -1, cameras.disc(radius))
    if moved > 1:
        rgb = cv2.filter2D(rgb, -1, cameras.shake(moved, rng))
    return rgb


def take(
    shot: Shot, rng: Rng, kind: str, family: Family | None, drawing: Drawing | None, view: str = framing.WHOLE
) -> Picture:
    """A photo of a piece with the mark of a family, of a bare one (`kind` bare) or of a front (`kind` top)."""
    ware, dark = _piece(kind, family, shot, rng)
    place = framing.put(ware, drawing, shot, rng) if drawing else None
    cam = framing.aim(ware, place, shot, rng, view)
    noise = Noise(rng)
    s = scene.trace(ware, cam)
    light = _light(ware, place, cam, shot, rng)
    scene.glaze(ware, s, noise, light.waves)
    if ware.kind == wares.TOP:
        laying.decorate(ware, s, rng)
    marked = _mark(s, ware, cam, place, family, drawing, dark, shot, rng) if place else None
    lost = _lay_things(s, ware, marked, shot, rng) if marked else np.zeros(s.x.shape, np.float32)
    ground = things.table(str(rng.choice(things.BACKGROUNDS)), s.x, s.y, rng)
    if rng.random() < 0.3:
        ground = laying.others(ground, s, rng)
    rgb, mirror = scene.shade(ware, s, light, ground)
    rgb = rgb * scene.overall_shadow(s, rng)[..., None]
    drowned = mirror > DROWNED
    lost = np.maximum(lost, drowned.astype(np.float32))
    if marked and shot.hidden_by == "thumb":
        rgb, cover = laying.finger(rgb, shot.hidden, marked.quad, rng)
        lost = np.maximum(lost, cover)
    pixels = marked.pixels if marked else NO_MARK_SHARE * cam.width
    blur = (shot.defocus * pixels, shot.shake * pixels)
    # What is far brighter than white spreads no further than a lamp's edge does.
    rgb = cameras.develop(_blur(np.minimum(rgb, 6.0), *blur, rng), shot.sensor, rng)
    picture = Picture(
        rgb,
        ware,
        framing.holds(ware, cam, 1.0),
        dark,
        family.means if family else None,
        family.ink if family else None,
    )
    if marked:
        _measure_mark(picture, marked, family, shot, cam, lost, blur)
    _note(picture, shot, marked, cam, drowned, blur)
    return picture


def _measure_mark(
    picture: Picture,
    marked: Marked,
    family: Family,
    shot: Shot,
    cam: cameras.Camera,
    lost: np.ndarray,
    blur: tuple[float, float],
) -> None:
    """Corners, how much is seen, and size, blur and contrast of the letters that tell a family from its siblings."""
    picture.quad = [[float(x), float(y)] for x, y in marked.quad]
    picture.seen, picture.tell_seen = _seen(marked, picture.ware, cam, lost)
    shape, pixels = marked.drawing.mask.shape, marked.pixels
    h, w = (n / max(shape) * pixels for n in shape)
    left, top, right, bottom = marked.drawing.tell
    letters = min((bottom - top) * h, 1.5 * (right - left) * w / max(len(family.line), 1))
    picture.letters = float(letters * np.cos(np.radians(shot.tilt)))
    picture.blurred = 2 * blur[0] + blur[1] + (shot.strike.smear + shot.strike.double) * pixels
    contrast = LIGHT_INK_CONTRAST if picture.light_on_dark else 1 - float(np.mean(INKS[family.ink]))
    if picture.means == IMPRESSED:
        contrast = RELIEF_CONTRAST
    level = shot.sensor.exposure * 0.8
    noise = np.sqrt(level * shot.sensor.electrons + shot.sensor.read**2) / shot.sensor.electrons
    picture.clear = float(level * contrast * shot.strike.density / noise * max(picture.letters / 6, 0.3))


def _seen(marked: Marked, ware: wares.Ware, cam: cameras.Camera, lost: np.ndarray) -> tuple[float, float]:
    """Shares of the mark's and the tell's ink that took and is neither hidden, drowned, nor out of the frame."""
    c = (np.arange(GRID) + 0.5) / GRID
    u, v = (g.ravel() for g in np.meshgrid(c, c))
    px = cam.project(framing.points(ware, marked.place, u, v))
    h, w = lost.shape
    inside = ((px > 0) & (px < (w - 1, h - 1))).all(1)
    at = np.clip(px, 0, (w - 1, h - 1)).astype(int)
    mask = marked.drawing.mask
    m = round(marked.margin * max(mask.shape))
    took = np.minimum(marked.ink[m:-m, m:-m], mask * 1.4)
    fresh, took = (cv2.resize(p, (GRID, GRID), interpolation=cv2.INTER_AREA).ravel() for p in (mask, took))
    good = inside & (took > SEEN_INK * fresh) & (lost[at[:, 1], at[:, 0]] < 0.5)
    left, top, right, bottom = marked.drawing.tell
    tell = fresh * ((u >= left) & (u <= right) & (v >= top) & (v <= bottom))
    return float((fresh * good).sum() / max(fresh.sum(), 1e-6)), float((tell * good).sum() / max(tell.sum(), 1e-6))


def _note(
    picture: Picture,
    shot: Shot,
    marked: Marked | None,
    cam: cameras.Camera,
    drowned: np.ndarray,
    blur: tuple[float, float],
) -> None:
    """What is known of the photo, for the truth."""
    noted = {
        "whole_foot": framing.holds(picture.ware, cam, 1.03 * picture.ware.foot),
        "tilt_deg": round(shot.tilt, 1),
        "blur_px": round(2 * blur[0] + blur[1], 2),
        "electrons": round(shot.sensor.electrons),
        "exposure": round(shot.sensor.exposure, 3),
    }
    if marked:
        box = np.zeros(drowned.shape, np.uint8)
        cv2.fillConvexPoly(box, np.int32(marked.quad), 1)
        noted |= {
            "glare": round(float(drowned[box > 0].mean()), 3) if box.any() else 0.0,
            "seen": round(picture.seen, 3),
            "tell_seen": round(picture.tell_seen, 3),
            "letters_px": round(picture.letters, 1),
            "clear": round(picture.clear, 2),
            "mark_share": round(marked.pixels / cam.width, 3),
        }
    picture.measured = noted
