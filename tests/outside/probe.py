"""The engine as the checks see it: one function at a time, through tools/probe."""

import json
import pathlib
import subprocess

import numpy as np


class Skip(Exception):
    """What the check needs is not on this machine; the text says what."""


class Probe:
    def __init__(self, binary: pathlib.Path, folder: pathlib.Path) -> None:
        self._binary = binary
        self.folder = folder

    def __call__(self, name: str, **request) -> dict:
        plain = json.dumps(request, default=lambda v: v.tolist() if hasattr(v, "tolist") else str(v))
        done = subprocess.run([self._binary, name], input=plain, capture_output=True, text=True)
        assert done.returncode == 0, done.stderr.strip()
        return json.loads(done.stdout)

    def footring(self, *words: object, at: str = ".", code: int = 0) -> str:
        """What the program prints, run in a folder below `self.folder`."""
        program = self._binary.with_name("footring")
        if not program.exists():
            raise Skip(f"{program} is not built")
        words = [str(word) for word in words]
        done = subprocess.run([program, *words], capture_output=True, text=True, cwd=self.folder / at)
        assert done.returncode == code, f"{words}: {done.returncode}\n{done.stderr}"
        return done.stdout

    def plane(self, name: str, **request) -> np.ndarray:
        """What a function that writes one plane wrote."""
        out = self.folder / "plane"
        size = self(name, out=out, **request)
        return np.fromfile(out, "<f4").reshape(size["height"], size["width"])

    def picture(self, pixels: np.ndarray, name: str = "picture.png") -> pathlib.Path:
        """The pixels as a PNG file that both sides read."""
        import cv2

        path = self.folder / name
        cv2.imwrite(str(path), pixels)
        return path


def stamp(side: int = 320) -> np.ndarray:
    """A grey drawing with arcs, strokes and lettering: the same pixels go to both sides."""
    import cv2

    page = np.full((side, side), 226, np.uint8)
    centre = (side // 2, side // 2)
    cv2.circle(page, centre, side * 3 // 8, 60, 5, cv2.LINE_AA)
    cv2.circle(page, centre, side // 4, 90, 3, cv2.LINE_AA)
    cv2.ellipse(page, centre, (side // 5, side // 9), 30, 0, 250, 40, 4, cv2.LINE_AA)
    cv2.putText(page, "OVEN 7", (side // 4, side * 9 // 16), 3, side / 300, 30, 2, cv2.LINE_AA)
    cv2.fillPoly(page, [np.array([[60, 40], [100, 55], [80, 90]])], 110, cv2.LINE_AA)
    noise = np.random.default_rng(7).normal(0, 2.0, page.shape)
    blurred = cv2.GaussianBlur(page, (0, 0), 0.8).astype(float)
    return np.clip(blurred + noise, 0, 255).round().astype(np.uint8)
