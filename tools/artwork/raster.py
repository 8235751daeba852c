"""Masks of icons: the body of an icon, as an antialiased coverage picture."""

import io
import json
import pathlib

import numpy as np
import resvg_py
from PIL import Image

ARTWORK = pathlib.Path(__file__).resolve().parents[2] / "target" / "artwork"
SETS = ("mdi", "tabler", "ph")


def load_sets() -> dict[str, dict]:
    """The icon sets, by short name. Fails with what to run where one is missing."""
    sets = {}
    for name in SETS:
        path = ARTWORK / "icons" / f"{name}.json"
        if not path.exists():
            raise SystemExit(f"{path} is missing: run tools/artwork/fetch first")
        sets[name] = json.loads(path.read_text())
    return sets


def mask(sets: dict[str, dict], member: str, size: int) -> np.ndarray:
    """Coverage (uint8, size x size) of `set:name`, its faint second tone left out."""
    prefix, name = member.split(":")
    icons = sets[prefix]
    icon = icons["icons"][name]
    width = icon.get("width", icons.get("width", 24))
    height = icon.get("height", icons.get("height", 24))
    body = icon["body"].replace("currentColor", "#000")
    svg = (f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" '
           f'width="{size}" height="{size}">{body}</svg>')
    png = resvg_py.svg_to_bytes(svg_string=svg, width=size, height=size, skip_system_fonts=True)
    picture = Image.open(io.BytesIO(bytes(png))).convert("RGBA")
    return np.asarray(picture)[..., 3]
