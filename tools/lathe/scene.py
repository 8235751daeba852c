"""One photo: a piece on a table, its mark, the light, the lens. Everything is worked out at the pixels of the photo:
each one's ray is followed to the piece, so perspective and the height of foot and wall are true."""

import dataclasses

import cv2
import numpy as np

from . import camera as cameras
from . import light as lights
from . import ware as wares
from .design import INKS, Family
from .noise import Noise, step
from .shot import Shot
from .ware import MAP, MAP_HALF, Ware

Rng = np.random.Generator
LINEAR = cv2.INTER_LINEAR


@dataclasses.dataclass(frozen=True)
class Place:
    """A flat thing on the piece: its middle, its turn in radians, the size of its longer side, its picture's shape."""

    x: float
    y: float
    turn: float
    size: float
    shape: tuple[int, int]

    def inside(self, x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Places of the piece as pixels of the thing's picture."""
        k = max(self.shape) / self.size
        c, s = np.float32(np.cos(self.turn) * k), np.float32(np.sin(self.turn) * k)
        dx, dy = x - np.float32(self.x), y - np.float32(self.y)
        return c * dx + s * dy + np.float32(self.shape[1] / 2 - 0.5), c * dy - s * dx + np.float32(
            self.shape[0] / 2 - 0.5
        )

    def outside(self, u: np.ndarray, v: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Shares of the picture's width and height as places of the piece."""
        k = self.size / max(self.shape)
        dx, dy = (np.asarray(u) - 0.5) * self.shape[1] * k, (np.asarray(v) - 0.5) * self.shape[0] * k
        c, s = np.cos(self.turn), np.sin(self.turn)
        return self.x + c * dx - s * dy, self.y + s * dx + c * dy


@dataclasses.dataclass
class Surface:
    """What each pixel sees: place, slope of the surface, reflectance, shine, and whether it is the piece."""

    x: np.ndarray
    y: np.ndarray
    rho: np.ndarray
    on: np.ndarray
    view: tuple[np.ndarray, ...]
    gx: np.ndarray
    gy: np.ndarray
    colour: np.ndarray
    shiny: np.ndarray


def trace(ware: Ware, cam: cameras.Camera) -> Surface:
    """Follows each ray to the piece or the table: to the plane of the foot, then to the height found there, thrice."""
    place, ray = cam.rays()
    rx, ry, rz = ray
    px, py, pz = (np.float32(v) for v in place)
    height = np.float32(0)
    for _ in range(4):
        t = (height - pz) / rz
        x, y = px + t * rx, py + t * ry
        rho = ware.rho(x, y)
        on = rho < 1
        height = np.where(on, ware.profile[ware.place(rho)], np.float32(ware.floor))
    norm = -1 / np.sqrt(rx * rx + ry * ry + rz * rz)
    fall = np.gradient(ware.profile, wares.REACH / wares.SAMPLES).astype(np.float32)[ware.place(rho)]
    n, safe = np.float32(ware.power - 2), np.maximum(rho, 1e-3)
    gx, gy = fall * (x / safe) / ware.a**2, fall * (y / safe) / ware.b**2
    if n > 0:
        gx, gy = gx * np.abs(x / ware.a / safe) ** n, gy * np.abs(y / ware.b / safe) ** n
    zero = np.zeros((*x.shape, 3), np.float32)
    return Surface(x, y, rho, on, (rx * norm, ry * norm, rz * norm), gx, gy, zero, np.zeros_like(x))


def glaze(ware: Ware, s: Surface, noise: Noise, waves: float) -> None:
    """Reflectance of the glazed and the bare parts; small things; waves of the surface."""
    tone, thick = (np.float32(v) for v in wares.GLAZES[ware.glaze])
    pool = np.exp(-((np.minimum(np.abs(s.rho - ware.foot + 0.05), 0.3) / 0.035) ** 2))
    depth = 0.5 * pool + 0.12 * noise.at("smooth", s.x, s.y, 70) + 0.03 * noise.at("rough", s.x, s.y, 250)
    s.colour[:] = tone * (1 - thick * depth[..., None])
    s.shiny[:] = 1.0
    if ware.kind != wares.TOP:
        for foot in ware.feet:
            edge = 0.012 + 0.0013 * noise.at("rough", s.x, s.y, 160)
            crest = 1 - step(np.abs(s.rho - foot), edge - 0.003, edge + 0.004)
            worn = 1.0 if ware.bare_foot else step(noise.at("rough", s.x, s.y, 190), 0.2, 0.8) * 0.7
            body = (
                np.float32(wares.BODY[ware.glaze])
                * (
                    1 + 0.06 * noise.at("grain", s.x, s.y, 500) - 0.12 * np.clip(noise.at("rough", s.x, s.y, 220), 0, 3)
                )[..., None]
            )
            cover = (crest * worn)[..., None]
            s.colour[:] = s.colour * (1 - cover) + body * cover
            s.shiny *= 1 - 0.92 * cover[..., 0]
            grime = (
                np.exp(-(((s.rho - foot + 0.028) / 0.012) ** 2))
                * step(noise.at("rough", s.x, s.y, 120), -0.6, 1.5)
                * 0.35
            )
            s.colour *= 1 - grime[..., None] * np.float32((0.5, 0.6, 0.72))
    u, v = (s.x + MAP_HALF) * (MAP / 2 / MAP_HALF), (s.y + MAP_HALF) * (MAP / 2 / MAP_HALF)
    stains = cv2.remap(ware.stains, u, v, LINEAR, borderMode=cv2.BORDER_REPLICATE)
    s.colour *= stains
    k = np.float32(MAP / 2 / MAP_HALF / 2)
    bumps = cv2.GaussianBlur(ware.bumps, (0, 0), 0.8)
    for gradient, axis in ((s.gx, 1), (s.gy, 0)):
        slope = np.gradient(bumps, axis=axis).astype(np.float32) * k * 2
        gradient += cv2.remap(slope, u, v, LINEAR)
        gradient += np.float32(waves) * noise.at("smooth", s.x, s.y, 130) + np.float32(waves * 0.12) * noise.at(
            "rough", s.x, s.y, 400
        )


def _to_size(picture: np.ndarray, longest: float) -> np.ndarray:
    """Shrunk to what the photo can show, so that nothing flickers."""
    k = 1.25 * longest / max(picture.shape[:2])
    return picture if k >= 1 else cv2.resize(picture, None, fx=k, fy=k, interpolation=cv2.INTER_AREA)


def put_mark(
    s: Surface,
    ink: np.ndarray,
    place: Place,
    margin: float,
    family: Family,
    light_ink: bool,
    pixels: float,
    depth: float,
) -> None:
    """Prints or impresses a mark into the surface. `ink` is padded by `margin` of the longer side."""
    wide = 1 + 2 * margin
    small = _to_size(ink, pixels * wide)
    long_side = max(ink.shape) / max(place.shape)
    at = dataclasses.replace(place, size=place.size * long_side, shape=small.shape)
    u, v = at.inside(s.x, s.y)
    if depth > 0:
        soft = cv2.GaussianBlur(small, (0, 0), 0.7)
        gx, gy = np.gradient(soft, axis=1), np.gradient(soft, axis=0)
        strong = np.quantile(np.hypot(gx, gy)[soft > 0.1], 0.9) if (soft > 0.1).any() else 1.0
        scale = np.float32(depth / max(strong, 1e-6))
        mx, my = (cv2.remap(np.float32(g), u, v, LINEAR) * scale for g in (gx, gy))
        c, d = np.float32(np.cos(place.turn)), np.float32(np.sin(place.turn))
        s.gx -= c * mx - d * my
        s.gy -= d * mx + c * my
        s.colour *= 1 - 0.16 * cv2.remap(soft, u, v, LINEAR)[..., None]
        return
    amount = cv2.remap(small, u, v, LINEAR)
    if light_ink:
        tone = np.float32((0.78, 0.74, 0.62) if family.ink != "gold" else (0.70, 0.52, 0.22))
        cover = np.clip(amount, 0, 1)[..., None]
        s.colour[:] = s.colour * (1 - cover) + tone * cover
    else:
        s.colour *= np.power(np.float32(INKS[family.ink]), amount[..., None])
    if family.ink == "gold":
        s.shiny += 3.0 * np.clip(amount, 0, 1)


def lay_on(s: Surface, picture: np.ndarray, place: Place, pixels: float) -> np.ndarray:
    """Lays a flat RGBA thing on the piece; what it covers."""
    small = _to_size(picture, pixels)
    u, v = dataclasses.replace(place, shape=small.shape[:2]).inside(s.x, s.y)
    seen = cv2.remap(small, u, v, LINEAR)
    cover = seen[..., 3:]
    s.colour[:] = s.colour * (1 - cover) + seen[..., :3] * cover
    s.shiny *= 1 - 0.85 * cover[..., 0]
    return cover[..., 0]


def shade(ware: Ware, s: Surface, light: lights.Light, ground: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Light that reaches the lens, and the part that was mirrored."""
    norm = 1 / np.sqrt(s.gx * s.gx + s.gy * s.gy + 1)
    normal = (-s.gx * norm, -s.gy * norm, norm)
    lx, ly, lz = light.towards
    profile = ware.profile
    around = cv2.GaussianBlur(profile[None], (0, 0), 0.03 * wares.SAMPLES)[0] - profile
    ambient = 1 - np.clip(9 * around, 0, 0.55)[ware.place(s.rho)]
    height, shadow = profile[ware.place(s.rho)], np.zeros_like(s.rho)
    for far in (0.02, 0.045, 0.08, 0.14):
        over = (
            ware.height(s.x + np.float32(far * lx / max(lz, 0.2)), s.y + np.float32(far * ly / max(lz, 0.2)))
            - height
            - np.float32(far)
        )
        shadow = np.maximum(shadow, step(over, -0.004, 0.012))
    direct = np.clip(normal[0] * lx + normal[1] * ly + normal[2] * lz, 0, 1) * (1 - 0.85 * shadow) / max(lz, 0.35)
    main, broad = light.colours()
    sides = 0.85 + 0.15 * normal[2] + 0.12 * normal[1]
    reach = (light.around * ambient * sides)[..., None] * broad + (light.main * direct)[..., None] * main
    mirror = lights.gloss(light, normal, s.view, s.shiny)
    piece = s.colour * reach + mirror[..., None]
    k = np.float32(-ware.floor / max(lz, 0.3))
    throw = 1 - step(ware.rho(s.x + k * lx, s.y + k * ly), 0.9, 1.1)
    contact = np.exp(-np.clip(s.rho - 1, 0, 3) / 0.06)
    flat = (light.around * (1 - 0.65 * contact))[..., None] * broad + (light.main * (1 - 0.8 * throw))[..., None] * main
    edge = s.on.astype(np.float32)
    edge = cv2.GaussianBlur(edge, (0, 0), 0.9)[..., None]
    return piece * edge + ground * flat * (1 - edge), mirror * s.on


def overall_shadow(s: Surface, rng: Rng) -> np.ndarray:
    """The shadow of a hand or phone: a soft edge across the scene, or none."""
    if rng.random() < 0.55:
        return np.ones_like(s.x)
    turn, far = rng.uniform(0, 2 * np.pi), rng.uniform(0.0, 0.8)
    along = s.x * np.float32(np.cos(turn)) + s.y * np.float32(np.sin(turn))
    across = s.y * np.float32(np.cos(turn)) - s.x * np.float32(np.sin(turn))
    soft = rng.uniform(0.08, 0.4)
    edge = step(along - far + 0.15 * np.sin(across * rng.uniform(1, 4) + rng.uniform(0, 6)), -soft, soft)
    return 1 - np.float32(rng.uniform(0.15, 0.45)) * edge


def choose_light(shot: Shot, rng: Rng, centre: tuple[float, float], spread: float) -> lights.Light:
    """`centre` is where the mark mirrors to, `spread` how far that differs over the mark's mean side."""
    lamps = []
    if shot.glare > 0.02:
        size = np.sqrt(shot.glare) * spread * rng.uniform(0.4, 0.5)
        turn, off = rng.uniform(0, 2 * np.pi), spread * rng.uniform(0.05, 0.25)
        form = str(rng.choice(["window", "lamp"]))
        lamps.append(
            lights.Lamp(
                centre[0] + off * np.cos(turn),
                centre[1] + off * np.sin(turn),
                size * rng.uniform(0.9, 1.3),
                size * rng.uniform(0.9, 1.3),
                rng.uniform(0, 3),
                rng.uniform(18, 40),
                form,
                rng.uniform(0.08, 0.5),
            )
        )
    for _ in range(int(rng.integers(0, 3))):
        turn, off = rng.uniform(0, 2 * np.pi), spread * rng.uniform(0.9, 2.5) + 0.1
        size = rng.uniform(0.05, 0.3)
        at = (centre[0] + (off + size) * np.cos(turn), centre[1] + (off + size) * np.sin(turn))
        lamps.append(
            lights.Lamp(
                *at,
                size,
                size * rng.uniform(0.6, 1.6),
                rng.uniform(0, 3),
                rng.uniform(8, 40),
                str(rng.choice(["window", "lamp"])),
                rng.uniform(0.05, 0.6),
            )
        )
    main = rng.uniform(0.25, 0.75)
    return lights.Light(
        rng.uniform(0, 2 * np.pi),
        np.radians(shot.light_height),
        main,
        1 - 0.7 * main,
        rng.uniform(-0.4, 0.8),
        tuple(lamps),
        rng.uniform(0.2, 1.0),
        rng.uniform(0.002, 0.012),
    )
