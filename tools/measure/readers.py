"""General-purpose readers on the same codes: true corners of kiln's truth, cut out straight.

    python3 -m measure.readers LOT... [--probe target/release/probe] [--name RESULTS]

Run from `tools`, in a Python with numpy, Pillow and `rapidocr-onnxruntime` (PyPI); `tesseract` (Debian) must be on
the path. A reader that is absent is left out. Each is asked twice: for what stands there, and, with the scheme
known, for the text nearest to that which the scheme allows (letters and figures of one shape changed for each
other, signs before and behind left away). Ours reads the same corners of the same photos (`probe codes`).
"""

import argparse
import itertools
import json
import pathlib
import re
import shutil
import subprocess
import sys

import numpy as np
from PIL import Image

from . import results

# Height of a code in a crop, pixels, and what is left around it, in heights: what both readers like best.
HIGH, ROOM = 32, 0.4
# Letters and figures of one shape.
ALIKE = {"0": "O", "O": "0", "1": "I", "I": "1", "5": "S", "S": "5", "8": "B", "B": "8", "2": "Z", "Z": "2", "6": "G",
         "G": "6", "L": "1", "Q": "0", "D": "0", "|": "1"}
# Most changes of that kind that are tried.
CHANGED = 4


def straight(photo: Image.Image, quad: list[list[float]]) -> Image.Image:
    """A code with room around it, upright, its letters HIGH pixels high."""
    q = np.array(quad, float)
    high = (np.linalg.norm(q[3] - q[0]) + np.linalg.norm(q[2] - q[1])) / 2
    wide = (np.linalg.norm(q[1] - q[0]) + np.linalg.norm(q[2] - q[3])) / 2
    scale, room = HIGH / max(high, 1.0), ROOM * HIGH
    w, h = max(wide * scale, 4), HIGH
    here = [(room, room), (room + w, room), (room + w, room + h), (room, room + h)]
    rows, right = [], []
    for (x, y), (u, v) in zip(here, q):
        rows += [[x, y, 1, 0, 0, 0, -u * x, -u * y], [0, 0, 0, x, y, 1, -v * x, -v * y]]
        right += [u, v]
    map_ = np.linalg.solve(np.array(rows), np.array(right))
    size = (round(w + 2 * room), round(h + 2 * room))
    return photo.transform(size, Image.Transform.PERSPECTIVE, map_.tolist(), Image.Resampling.BICUBIC)


def allowed(text: str, pattern: re.Pattern) -> str:
    """The text of the scheme that is nearest to what was read; what was read where there is none."""
    for begin, end in sorted(itertools.combinations(range(len(text) + 1), 2), key=lambda s: s[0] - s[1]):
        part = text[begin:end]
        swaps = [i for i, c in enumerate(part) if c in ALIKE]
        for count in range(min(len(swaps), CHANGED) + 1):
            for some in itertools.combinations(swaps, count):
                tried = "".join(ALIKE[c] if i in some else c for i, c in enumerate(part))
                if pattern.fullmatch(tried):
                    return tried
    return text


def tidy(text: str) -> str:
    return "".join(text.split()).upper()


def tesseract(crop: Image.Image) -> str:
    data = subprocess.run(["tesseract", "stdin", "stdout", "--psm", "7"], input=png(crop), capture_output=True,
                          env={"OMP_THREAD_LIMIT": "1", "PATH": "/usr/bin:/bin"}, check=False)
    return tidy(data.stdout.decode(errors="replace"))


def png(crop: Image.Image) -> bytes:
    import io
    out = io.BytesIO()
    crop.save(out, "PNG")
    return out.getvalue()


def readers() -> dict:
    found = {}
    if shutil.which("tesseract"):
        found["tesseract"] = tesseract
    try:
        from rapidocr_onnxruntime import RapidOCR
    except ImportError:
        return found
    engine = RapidOCR(intra_op_num_threads=1, inter_op_num_threads=1)

    def rapid(crop: Image.Image) -> str:
        said, _ = engine(np.asarray(crop)[:, :, ::-1].copy(), use_det=False, use_cls=False, use_rec=True)
        return tidy("".join(line[0] for line in said or ()))

    found["rapidocr"] = rapid
    return found


def pattern_of(scheme: str) -> re.Pattern:
    import tomllib
    found = tomllib.loads(scheme)["scheme"]
    parts = [p for s in found for p in ([s["pattern"]] if isinstance(s["pattern"], str) else s["pattern"])]
    return re.compile("|".join(f"(?:{p})" for p in parts).replace("(?<", "(?P<"))


def collect(lots: list[pathlib.Path], probe: pathlib.Path | None) -> list[dict]:
    engines, rows = readers(), []
    for lot in lots:
        for row in map(json.loads, (lot / "truth.jsonl").read_text().splitlines()):
            code = row["code"]
            if not code or not code["of_scheme"]:
                continue
            scheme = (lot / "library-clean" / row["family"] / "codes.toml").read_text()
            photo = lot / "photos" / row["file"]
            crop = straight(Image.open(photo).convert("RGB"), code["quad"])
            one = {"lot": lot.name, "photo": row["file"], "condition": row["condition"],
                   "legible": code.get("legible"), "text": tidy(code["text"])}
            for name, read in engines.items():
                said = read(crop)
                one[name] = said
                one[f"{name}+scheme"] = allowed(said, pattern_of(scheme))
            if probe:
                asked = json.dumps({"photo": str(photo), "places": [{"quad": code["quad"], "schemes": scheme}]})
                done = subprocess.run([probe, "codes"], input=asked.encode(), capture_output=True, check=True)
                (answer,) = json.loads(done.stdout)["answers"][0]
                one["footring+scheme"] = next((r["text"] for r in answer["readings"]), "")
            rows.append(one)
    return rows


def table(rows: list[dict]) -> dict:
    """Share read exactly, by reader and condition."""
    names = [n for n in rows[0] if n not in ("lot", "photo", "condition", "legible", "text")]
    groups = {"all": rows}
    for condition in sorted({r["condition"] for r in rows}):
        groups[condition] = [r for r in rows if r["condition"] == condition]
    if any(r["legible"] is not None for r in rows):
        groups["legible"] = [r for r in rows if r["legible"]]
    return {key: {"n": len(some)} | {n: round(sum(r[n] == r["text"] for r in some) / max(len(some), 1), 3) for n in names}
            for key, some in groups.items()}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("lots", nargs="+", type=pathlib.Path)
    parser.add_argument("--probe", type=pathlib.Path)
    parser.add_argument("--name", help="of the results file")
    options = parser.parse_args()
    rows = collect(options.lots, options.probe)
    figures = table(rows)
    for key, line in figures.items():
        print(key, line, file=sys.stderr)
    if options.name:
        seeds = [lot.resolve().name.split("-")[1] for lot in options.lots]
        results.write(options.name, {"kind": "readers", "lots": seeds, **results.provenance(), "figures": figures})


if __name__ == "__main__":
    main()
