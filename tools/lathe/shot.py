"""How a photo is taken: the wish of a condition and a severity, before chance fills in the rest."""

import dataclasses

import numpy as np

from .camera import Sensor
from .strike import Strike

SEVEN = ("good", "weak", "blur", "tilt-glare", "partial", "smudge", "low-light")
FURTHER = ("small", "impressed", "hollow", "across-ring", "distractor")
SEVERITIES = ("easy", "medium", "hard")


@dataclasses.dataclass(frozen=True)
class Shot:
    # Longer side of the mark against the photo's width.
    share: float
    # Degrees.
    tilt: float
    # Radius of the lens's blur and length of the shake, as shares of the mark's longer side.
    defocus: float
    shake: float
    sensor: Sensor
    strike: Strike
    # Share of the mark that a window mirrored in the glaze covers; 0 for none near it.
    glare: float = 0.0
    # Share of the mark that is hidden, and by what: `frame`, `thumb`, `sticker` or nothing.
    hidden: float = 0.0
    hidden_by: str = ""
    hollow: bool = False
    across_ring: bool = False
    small: bool = False
    distractors: tuple[str, ...] = ()
    # Height of the main light in degrees: low light from the side shows relief.
    light_height: float = 55.0
    # 0 washed, 1 out of a barn.
    dirt: float = 0.2


def ordinary(rng: np.random.Generator, level: int) -> Shot:
    """A photo that somebody would send without a second thought; `level` 0 to 2 makes it a little worse."""
    sensor = Sensor(
        electrons=float(rng.uniform(2500, 8000)) / (1 + 0.6 * level),
        exposure=float(rng.uniform(0.55, 0.9)),
        red=float(rng.normal(1.0, 0.05)),
        blue=float(rng.normal(1.0, 0.07)),
        vignette=float(rng.uniform(0.05, 0.3)),
        smoothing=float(rng.uniform(0.3, 0.7)),
        sharpening=float(rng.uniform(0.2, 0.8)),
    )
    strike = Strike(
        density=float(rng.uniform(0.8, 1.1)),
        uneven=float(rng.uniform(0.0, 0.25)) * (1 + 0.5 * level),
        missing=float(rng.uniform(0, 0.02)) * level,
        worn=float(rng.uniform(0, 0.04)) * level,
        bleed=float(rng.uniform(0.001, 0.0028)),
    )
    return Shot(
        share=float(rng.uniform(0.24, 0.52)) * (1 - 0.08 * level),
        tilt=float(rng.uniform(0, 8 + 6 * level)),
        defocus=float(rng.uniform(0.0, 0.002 + 0.001 * level)),
        shake=0.0,
        sensor=sensor,
        strike=strike,
        light_height=float(rng.uniform(35, 75)),
        dirt=float(rng.beta(1.2, 3)),
    )


def make(condition: str, severity: str, rng: np.random.Generator, relief: bool) -> Shot:
    """A shot of one condition. Ranges of severities adjoin and were set by looking at pictures."""
    level = SEVERITIES.index(severity)
    shot = ordinary(rng, level)
    if relief:
        shot = dataclasses.replace(shot, light_height=float(rng.uniform(14, 38)))

    def between(*edges: float) -> float:
        return float(rng.uniform(edges[level], edges[level + 1]))

    change: dict = {}
    if condition == "weak":
        how = rng.integers(3)
        strike = dataclasses.replace(
            shot.strike,
            density=1 - between(0.35, 0.55, 0.7, 0.82) if how != 1 else 0.8,
            uneven=between(0.3, 0.5, 0.7, 0.9),
            missing=between(0.08, 0.2, 0.35, 0.5) if how == 1 else between(0.0, 0.05, 0.1, 0.2),
            worn=between(0.05, 0.15, 0.3, 0.45) if how == 2 else 0.0,
        )
        change = {"strike": strike}
    elif condition == "blur":
        size = between(0.004, 0.008, 0.013, 0.02)
        change = {"defocus": size, "shake": 0.0} if rng.random() < 0.6 else {"defocus": size / 3, "shake": 2.6 * size}
    elif condition == "tilt-glare":
        change = {"tilt": between(20, 30, 42, 54), "glare": between(0.0, 0.15, 0.3, 0.5)}
    elif condition == "partial":
        by = str(rng.choice(["frame", "thumb", "sticker"]))
        change = {
            "hidden": between(0.08, 0.2, 0.35, 0.5),
            "hidden_by": by,
            "distractors": () if by == "frame" else (("thumb" if by == "thumb" else "price sticker"),),
        }
    elif condition == "smudge":
        if rng.random() < 0.5:
            strike = dataclasses.replace(
                shot.strike, smear=between(0.012, 0.025, 0.045, 0.075), bleed=between(0.002, 0.003, 0.004, 0.006)
            )
        else:
            strike = dataclasses.replace(
                shot.strike, double=between(0.01, 0.02, 0.04, 0.08), second=between(0.35, 0.55, 0.75, 0.95)
            )
        change = {"strike": strike}
    elif condition == "low-light":
        sensor = dataclasses.replace(
            shot.sensor,
            electrons=1 / between(1 / 900, 1 / 400, 1 / 160, 1 / 70),
            exposure=1 / between(1 / 0.5, 1 / 0.33, 1 / 0.2, 1 / 0.12),
            red=float(rng.uniform(1.0, 1.3)),
            blue=float(rng.uniform(0.6, 0.95)),
            smoothing=float(rng.uniform(0.6, 1.2)),
        )
        change = {"sensor": sensor, "shake": between(0.0, 0.004, 0.008, 0.012)}
    elif condition == "small":
        change = {"share": 1 / between(1 / 0.13, 1 / 0.11, 1 / 0.09, 1 / 0.07), "small": True}
    elif condition == "hollow":
        change = {"hollow": True}
    elif condition == "across-ring":
        change = {"across_ring": True}
    elif condition == "distractor":
        things = ["pencil price", "handwritten number", "paper label", "barcode sticker", "repair staple"]
        change = {"distractors": tuple(str(t) for t in rng.choice(things, 1 + level, replace=False))}
    return dataclasses.replace(shot, **change)
