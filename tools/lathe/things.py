"""What else is in a photo: tables, stickers and writing on the piece, thumbs, staples, other things."""

import cv2
import numpy as np
from PIL import Image, ImageDraw

from .noise import Noise, step
from .sheet import font, pick_face

Rng = np.random.Generator
BACKGROUNDS = ("wood", "wood", "cloth", "newspaper", "plain", "stone", "hand")
DISTRACTORS = ("pencil price", "handwritten number", "paper label", "barcode sticker", "repair staple")


def table(kind: str, x: np.ndarray, y: np.ndarray, rng: Rng) -> np.ndarray:
    """Reflectance of the table at places in units of the piece."""
    noise = Noise(rng)
    turn, fine = rng.uniform(0, np.pi), noise.at("grain", x, y, 400)
    u, v = (
        x * np.float32(np.cos(turn)) + y * np.float32(np.sin(turn)),
        y * np.float32(np.cos(turn)) - x * np.float32(np.sin(turn)),
    )
    if kind == "wood":
        base = np.float32(
            [(0.36, 0.21, 0.11), (0.50, 0.35, 0.20), (0.20, 0.11, 0.06), (0.58, 0.46, 0.32)][rng.integers(4)]
        )
        rings = np.sin(22 * v + 5.0 * noise.at("smooth", u * 0.35, v * 1.6, 40) + 1.5 * noise.at("smooth", u, v, 30))
        pores = noise.at("grain", u * 0.08, v * 1.0, 300)
        plank = np.abs(np.mod(v * rng.uniform(0.6, 1.4), 1) - 0.5) > 0.494
        shade = 1 + 0.14 * rings + 0.10 * pores + 0.03 * fine
        return base * (shade * np.where(plank, 0.35, 1))[..., None]
    if kind == "cloth":
        base, other = np.float32(rng.uniform(0.12, 0.75, (2, 3)))
        weave = 0.5 + 0.25 * (np.sin(150 * u) * np.sign(np.sin(75 * v)) + np.sin(150 * v))
        stripes = np.zeros_like(u)
        if rng.random() < 0.6:
            width = rng.uniform(1.2, 4)
            stripes = (
                (np.mod(u * width, 1) < 0.3) * 0.5 + (np.mod(v * width, 1) < 0.3) * 0.5 * (rng.random() < 0.7)
            ).astype(np.float32)
        folds = 1 + 0.14 * noise.at("smooth", u * 0.5, v, 40)
        return (
            (base * (1 - stripes)[..., None] + other * stripes[..., None]).transpose(2, 0, 1)
            * folds
            * (0.8 + 0.3 * weave)
        ).transpose(1, 2, 0)
    if kind == "newspaper":
        return _print(u, v, rng, noise) * (1 + 0.03 * fine)[..., None]
    if kind == "stone":
        base = np.float32(rng.uniform(0.25, 0.6)) * np.float32((1.0, 0.98, 0.94))
        return base * (1 + 0.16 * noise.at("rough", u, v, 180) + 0.10 * fine)[..., None]
    if kind == "hand":
        shade = 1 + 0.10 * noise.at("smooth", u, v, 60) + 0.03 * noise.at("rough", u, v, 300)
        far = step(noise.at("smooth", x * 0.4, y * 0.4, 30), -0.2, 0.1)[..., None]
        return np.float32((0.52, 0.32, 0.23)) * shade[..., None] * far + np.float32(rng.uniform(0.05, 0.3, 3)) * (
            1 - far
        )
    return (
        np.float32(rng.uniform(0.08, 0.7))
        * np.float32(rng.uniform(0.9, 1.1, 3))
        * (1 + 0.015 * fine + 0.05 * noise.at("smooth", u, v, 50))[..., None]
    )


def _print(u: np.ndarray, v: np.ndarray, rng: Rng, noise: Noise) -> np.ndarray:
    """Columns of lines of small words, a heading and a grey picture, none of which can be read."""
    side = 1024
    page = Image.new("L", (side, side), 225)
    pen, face = ImageDraw.Draw(page), pick_face(rng, "serif")
    for column in range(4):
        left, top = 12 + column * 256, 0
        while top < side:
            if rng.random() < 0.03:
                word = "".join(rng.choice(list("AEIKLMNORSTU"), 7))
                pen.text((left, top + 8), word, font=font(face, 26), fill=40)
                top += 60
            elif rng.random() < 0.012:
                pen.rectangle((left, top, left + 230, top + 150), fill=int(rng.integers(90, 170)))
                top += 165
            else:
                line = " ".join("".join(rng.choice(list("aeioulmnrstdcph"), rng.integers(2, 9))) for _ in range(6))
                pen.text((left, top), line[:30], font=font(face, 9), fill=60)
                top += 18
    page = np.asarray(page, np.float32) / 255
    k = np.float32(side / 1.6)
    grey = cv2.remap(page, np.mod(u * k, side - 1), np.mod(v * k, side - 1), cv2.INTER_LINEAR)
    return grey[..., None] * np.float32((0.72, 0.70, 0.63))


def writing(words: str, colour: tuple, rng: Rng, thick: int = 0) -> np.ndarray:
    """Words in a hand as RGBA, 0 to 1."""
    used = font(pick_face(rng, "hand"), 90)
    tile = Image.new("L", (int(used.getlength(words)) + 80, 220), 0)
    ImageDraw.Draw(tile).text((40, 160), words, font=used, fill=255, anchor="ls", stroke_width=thick)
    alpha = np.asarray(tile, np.float32) / 255
    rough = Noise(rng).plane("grain", alpha.shape, 500)
    out = np.empty((*alpha.shape, 4), np.float32)
    out[..., :3], out[..., 3] = np.float32(colour), alpha * np.clip(0.75 + 0.25 * rough, 0.2, 1)
    return out


def sticker(rng: Rng, kind: str) -> np.ndarray:
    """A price sticker, a paper label or one with bars, as RGBA."""
    h, w = (260, 400) if kind != "paper label" else (int(rng.integers(240, 400)), 420)
    paper = np.float32(
        [(0.85, 0.84, 0.80), (0.80, 0.76, 0.62), (0.85, 0.75, 0.25), (0.78, 0.35, 0.22), (0.6, 0.75, 0.5)][
            rng.integers(5 if kind == "price sticker" else 2)
        ]
    )
    shape = Image.new("L", (w, h), 0)
    pen = ImageDraw.Draw(shape)
    if rng.random() < 0.35 and kind != "barcode sticker":
        pen.ellipse((4, 4, w - 4, h - 4), fill=255)
    else:
        pen.rounded_rectangle((4, 4, w - 4, h - 4), radius=int(rng.choice([2, 18, 40])), fill=255)
    text = Image.new("L", (w, h), 0)
    pen = ImageDraw.Draw(text)
    if kind == "barcode sticker":
        x = 40
        while x < w - 45:
            bar = int(rng.integers(2, 9))
            pen.rectangle((x, 30, x + bar, h - 70), fill=255)
            x += bar + int(rng.integers(3, 10))
        pen.text(
            (w / 2, h - 22),
            "".join(rng.choice(list("0123456789"), 11)),
            font=font(pick_face(rng, "sans"), 24),
            fill=255,
            anchor="ms",
        )
    elif kind == "paper label":
        face = pick_face(rng, "serif", "slab")
        for k, words in enumerate(("LOT", str(rng.integers(10, 999)), "room " + "ABCD"[rng.integers(4)])):
            pen.text((w / 2, h * (0.36 + 0.22 * k)), words, font=font(face, 34), fill=255, anchor="ms")
    else:
        price = f"{rng.integers(1, 60)}.{rng.choice(['00', '50', '95'])}"
        pen.text((w / 2, h * 0.62), price, font=font(pick_face(rng, "hand", "sans"), 74), fill=255, anchor="ms")
    ink = np.asarray(text, np.float32)[..., None] / 255
    out = np.empty((h, w, 4), np.float32)
    dirt = 1 - 0.06 * np.abs(Noise(rng).plane("rough", (h, w), 200))
    out[..., :3] = (paper * (1 - ink) + np.float32((0.08, 0.08, 0.12)) * ink) * dirt[..., None]
    out[..., 3] = np.asarray(shape, np.float32) / 255
    return out


def staple(rng: Rng) -> np.ndarray:
    """A metal rivet across a crack, as RGBA: the crack runs through the picture, the staple crosses it."""
    h, w = 300, 700
    out = np.zeros((h, w, 4), np.float32)
    path = np.cumsum(rng.normal(0, 5, 24))
    points = np.stack([np.linspace(0, w, 24), h / 2 + path - path.mean()], -1)
    crack = np.zeros((h, w), np.float32)
    cv2.polylines(crack, [np.int32(points * 16)], False, 1.0, 2, cv2.LINE_AA, 4)
    out[..., :3], out[..., 3] = np.float32((0.2, 0.14, 0.09)), crack * 0.8
    for x in (0.3, 0.7) if rng.random() < 0.6 else (0.5,):
        bar = np.zeros((h, w), np.float32)
        cv2.line(bar, (int(x * w), int(h * 0.18)), (int(x * w), int(h * 0.82)), 1.0, 17, cv2.LINE_AA)
        shine = np.clip(cv2.GaussianBlur(bar, (0, 0), 4) - 0.5, 0, 1)[..., None]
        out[..., :3] = out[..., :3] * (1 - bar[..., None]) + bar[..., None] * (
            np.float32((0.30, 0.28, 0.25)) + 0.9 * shine
        )
        out[..., 3] = np.maximum(out[..., 3], bar)
    return out


def thumb(
    shape: tuple[int, int], tip: tuple[float, float], root: tuple[float, float], radius: float, rng: Rng
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """A finger in the picture's frame from beyond `root` to `tip`, `radius` in pixels: its cover, its colour in
    even light, and the shadow that it throws around itself."""
    h, w = shape
    y, x = np.mgrid[:h, :w].astype(np.float32)
    ax, ay = root[0] - tip[0], root[1] - tip[1]
    long = float(np.hypot(ax, ay)) + 1e-6
    ax, ay = ax / long, ay / long
    along, across = (x - tip[0]) * ax + (y - tip[1]) * ay, (y - tip[1]) * ax - (x - tip[0]) * ay
    girth = radius * (1 + 0.12 * np.tanh((along - radius) / radius) + 0.05 * np.sin(along / radius * 1.7))
    far = np.hypot(np.minimum(along - 1.35 * radius, 0) / 1.35, across) / girth
    soft = 2.5 / radius
    cover = 1 - step(far, 1 - soft, 1 + soft)
    round_ = np.sqrt(np.clip(1 - far**2, 0, 1))
    tone = np.float32([(0.62, 0.40, 0.30), (0.50, 0.30, 0.20), (0.30, 0.17, 0.11), (0.68, 0.47, 0.38)][rng.integers(4)])
    noise = Noise(rng)
    skin = (0.45 + 0.55 * round_) * (
        1 + 0.04 * noise.at("rough", x / w, y / w, 700) + 0.05 * noise.at("smooth", x / w, y / w, 160)
    )
    creases = (
        0.12 * np.exp(-(((np.mod(along, radius * 1.9) - radius * 1.6) / (0.07 * radius)) ** 2)) * (along > radius * 1.4)
    )
    colour = tone * (skin * (1 - creases))[..., None]
    nail_far = (np.abs((along - 0.85 * radius) / (0.72 * radius)) ** 2.6 + np.abs(across / (0.6 * radius)) ** 2.6) ** (
        1 / 2.6
    )
    nail = 1 - step(nail_far, 0.92, 1.0)
    edge = np.exp(-(((nail_far - 1) / 0.08) ** 2))
    pink = (0.55 * tone + np.float32((0.32, 0.22, 0.20))) * (
        0.6 + 0.4 * round_ + 0.25 * np.exp(-(((across / radius - 0.15) / 0.12) ** 2))
    )[..., None]
    colour = colour * (1 - nail[..., None]) + pink * nail[..., None]
    colour = colour * (1 - 0.3 * edge[..., None])
    shadow = 0.55 * np.exp(-np.clip(far - 1, 0, None) * 3.0)
    return cover, colour, shadow
