"""Decoding and turning upright."""

import numpy as np
from PIL import Image, ImageOps

# Two JPEG decoders may round apart by this many levels (measured: 1 to 2, on chroma edges more).
JPEG_MEAN = 1.0


def scene(width=120, height=80):
    """No symmetry: every turn and mirror is told apart."""
    x, y = np.meshgrid(np.linspace(0, 1, width), np.linspace(0, 1, height))
    rgb = np.stack([255 * x, 255 * y, 255 * (x * y > 0.3)], axis=2).astype(np.uint8)
    return Image.fromarray(rgb)


def decoded(probe, path):
    out = probe.folder / "rgb"
    size = probe("upright", picture=path, out=out)
    return np.fromfile(out, np.uint8).reshape(size["height"], size["width"], 3).astype(float)


def check_all_turns_against_pillow(probe):
    # Pillow 13 `ImageOps.exif_transpose`; EXIF 2.32, tag 274, values 1 to 8.
    worst = 0.0
    for turn in range(1, 9):
        exif = Image.Exif()
        exif[274] = turn
        path = probe.folder / f"turn{turn}.jpg"
        scene().save(path, quality=95, subsampling=0, exif=exif)
        want = np.asarray(ImageOps.exif_transpose(Image.open(path)).convert("RGB"), float)
        got = decoded(probe, path)
        assert got.shape == want.shape, f"orientation {turn}: {got.shape}, Pillow {want.shape}"
        worst = max(worst, np.abs(got - want).mean())
    assert worst < JPEG_MEAN, f"mean difference {worst:.2f} levels"
    return f"eight turns, mean difference at most {worst:.2f} levels"


def check_kinds_against_pillow(probe):
    # Pillow 13 reads the same files. Lossless ones must be equal; 16-bit grey is compared with its
    # upper byte, transparent parts with white beneath.
    rgb = scene()
    grey = rgb.convert("L")
    alpha = rgb.copy()
    alpha.putalpha(grey)
    deep = Image.fromarray(np.asarray(grey, np.uint16) * 257)
    on_white = Image.alpha_composite(Image.new("RGBA", rgb.size, "white"), alpha)
    cases = [
        ("grey.png", grey, grey, {}, 0.0),
        ("rgb.tif", rgb, rgb, {}, 0.0),
        ("deep.png", deep, grey, {}, 1.0),
        ("alpha.png", alpha, on_white, {}, 1.0),
        ("lossless.webp", rgb, rgb, {"lossless": True}, 0.0),
        ("palette.gif", grey, grey, {}, 0.0),
        ("rgb.bmp", rgb, rgb, {}, 0.0),
    ]
    for name, written, want, options, allowed in cases:
        path = probe.folder / name
        written.save(path, **options)
        differ = np.abs(decoded(probe, path) - np.asarray(want.convert("RGB"), float)).max()
        assert differ <= allowed, f"{name}: {differ} levels apart"
    return f"{len(cases)} kinds"
