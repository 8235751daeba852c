"""Real photographs with ground truth, taken by others and kept outside the project.

They are no backstamps: cartons held in a shop against one studio picture each, pairs of photos of
flat things with annotated points, and the same photos under every EXIF orientation. Nothing of them
enters the results but numbers: designs and photos are known by their place in the lists."""

import argparse
import csv
import json
import os
import pathlib
import shutil
import subprocess

from . import answers, environment, lots, results
from .intervals import median, wilson
from .results import ROOT

SETS = ROOT.parent / "shared" / "real"
WORK = ROOT / "target" / "real"
# Sources, as their folder states them: marcusklasson/GroceryStoreDataset (Klasson, Zhang and
# Kjellstrom, WACV 2019; MIT); danini/magsac, data/homography (Barath et al.; BSD);
# recurser/exif-orientation-examples (MIT).

# Mean difference in grey levels below which two JPEGs show the same picture: they were compressed
# apart from each other, which costs 1 to 3.
SAME_PICTURE = 6.0


def share(k: int, n: int) -> dict:
    low, high = wilson(k, n)
    return {"value": round(k / n, 5), "k": k, "n": n, "low": round(low, 5), "high": round(high, 5)}


def _link(source: pathlib.Path, target: pathlib.Path) -> None:
    try:
        os.link(source, target)
    except OSError:
        shutil.copyfile(source, target)


def lay_out(folder: pathlib.Path) -> tuple[pathlib.Path, list[pathlib.Path], list[int]]:
    """A library of one family a studio picture and a folder of photos, all named by their place in
    the lists; with the right family's place for each photo."""
    shutil.rmtree(WORK / "cartons", ignore_errors=True)
    library, photos = WORK / "cartons" / "library", WORK / "cartons" / "photos"
    photos.mkdir(parents=True)
    with (folder / "references.csv").open(newline="") as lines:
        references = list(csv.DictReader(lines))
    places = {row["label"]: i for i, row in enumerate(references)}
    for i, row in enumerate(references):
        source = folder / row["image"]
        family = library / "cartons" / f"design-{i:03}"
        family.mkdir(parents=True)
        _link(source, family / f"studio{source.suffix}")
        (family / "mark.toml").write_text(f'name = "Design {i:03}"\n')
    with (folder / "truth.csv").open(newline="") as lines:
        truth = list(csv.DictReader(lines))
    for i, row in enumerate(truth):
        source = folder / row["photo"]
        _link(source, photos / f"{i:04}{source.suffix}")
    return library, sorted(photos.iterdir()), [places[row["label"]] for row in truth]


def cartons(jobs: int | None) -> tuple[dict, list[list]]:
    """Top-1 and top-5 of `footring match` on the photos."""
    library, photos, right = lay_out(SETS / "cartons")
    out = lots.match(library, photos, WORK / "cartons" / "answers.jsonl", jobs=jobs)
    given, rows, verdicts = answers.read(out), [], {}
    for photo, place in zip(photos, right):
        answer = given[photo.name]
        ranked = [int(c.family.rpartition("-")[2]) for c in answer.candidates]
        rows.append([int(photo.stem), place, answer.verdict, *ranked])
        verdicts[answer.verdict] = verdicts.get(answer.verdict, 0) + 1
    top1 = sum(row[3:4] == [row[1]] for row in rows)
    top5 = sum(row[1] in row[3:8] for row in rows)
    named = [row for row in rows if row[2] == "named"]
    figures = {"top1": share(top1, len(rows)), "top5": share(top5, len(rows))}
    figures["verdicts"] = dict(sorted(verdicts.items()))
    if named:
        figures["named_right"] = share(sum(row[3] == row[1] for row in named), len(named))
    return figures, rows


# OpenCV's general matcher on the same two pictures, for comparison; runs in the outside
# environment. RootSIFT, ratio 0.8, MAGSAC, as in the yardstick.
OPENCV_PAIR = """
import sys, json, cv2, numpy as np
a, b = (cv2.imread(p, cv2.IMREAD_GRAYSCALE) for p in sys.argv[1:3])
(ka, da), (kb, db) = (cv2.SIFT_create(4000).detectAndCompute(p, None) for p in (a, b))
da, db = (np.sqrt(d / np.maximum(d.sum(1, keepdims=True), 1e-9)) for d in (da, db))
pairs = [m for m, n in cv2.BFMatcher().knnMatch(da, db, k=2) if m.distance < 0.8 * n.distance]
p = np.float32([ka[m.queryIdx].pt for m in pairs]); q = np.float32([kb[m.trainIdx].pt for m in pairs])
h, _ = cv2.findHomography(p, q, cv2.USAC_MAGSAC, 5.0, maxIters=2000, confidence=0.999)
print(json.dumps(None if h is None else h.tolist()))
"""


def carried(rows: list, point: list, shift: float) -> tuple[float, float]:
    """`point` (pixel centres at whole numbers) through a map whose own points are off by `shift`."""
    x, y = point[0] + shift, point[1] + shift
    u, v, w = (r[0] * x + r[1] * y + r[2] for r in rows)
    return u / w - shift, v / w - shift


def transfer_error(rows: list | None, pair: dict, shift: float) -> float | None:
    """Median distance in pixels at which the points of the first picture miss their partners."""
    if rows is None:
        return None
    misses = []
    for p, q in zip(pair["points_a"], pair["points_b"]):
        x, y = carried(rows, p, shift)
        misses.append(((x - q[0]) ** 2 + (y - q[1]) ** 2) ** 0.5)
    return median(misses)


def align(one: pathlib.Path, other: pathlib.Path) -> list | None:
    """The engine's map between two grey pictures, through tools/probe."""
    request = json.dumps({"one": str(one), "other": str(other)})
    done = subprocess.run(
        [lots.program("probe"), "align"], input=request, capture_output=True, text=True
    )
    if done.returncode != 0:
        raise SystemExit(done.stderr.strip())
    return json.loads(done.stdout)["rows"]


def pairs() -> dict:
    """Median transfer error of the eight points, each pair by its place in the list."""
    folder, figures = SETS / "pairs", {}
    for i, pair in enumerate(json.loads((folder / "truth.json").read_text()), 1):
        one, other = folder / pair["a"], folder / pair["b"]
        # The engine counts from pixel corners.
        figures[f"pair{i}"] = {"error_px": transfer_error(align(one, other), pair, 0.5)}
        try:
            command = [environment.python(), "-c", OPENCV_PAIR, one, other]
            done = subprocess.run(command, capture_output=True, text=True, check=True)
            rows = json.loads(done.stdout)
        except (environment.NotAvailable, subprocess.CalledProcessError) as why:
            lots.say(f"skipped: OpenCV on pair {i}, because {why}")
            continue
        figures[f"pair{i}"]["opencv_px"] = transfer_error(rows, pair, 0.0)
    return {
        name: {k: None if v is None else round(v, 3) for k, v in row.items()}
        for name, row in figures.items()
    }


def upright(path: pathlib.Path, out: pathlib.Path) -> tuple[int, int, bytes]:
    """Width, height and the green of every eighth pixel of a photo as the engine sees it."""
    request = json.dumps({"picture": str(path), "out": str(out)})
    done = subprocess.run(
        [lots.program("probe"), "upright"], input=request, capture_output=True, text=True
    )
    if done.returncode != 0:
        raise SystemExit(done.stderr.strip())
    size = json.loads(done.stdout)
    return size["width"], size["height"], out.read_bytes()[1 :: 3 * 8]


def orientation() -> dict:
    """How many photos come out upright and like their sister without a turn."""
    WORK.mkdir(parents=True, exist_ok=True)
    first: dict[str, tuple] = {}
    equal = total = 0
    for path in sorted((SETS / "orientation").glob("*.jpg")):
        shape = path.stem.partition("_")[0]
        seen = upright(path, WORK / "upright.rgb")
        want = first.setdefault(shape, seen)
        total += 1
        if seen[:2] == want[:2]:
            differ = sum(abs(a - b) for a, b in zip(seen[2], want[2])) / len(seen[2])
            equal += differ < SAME_PICTURE
    return {"equal": equal, "photos": total}


def run(arguments: argparse.Namespace) -> int:
    if not SETS.is_dir():
        print("skipped: the real photographs are not beside this checkout (../shared/real)")
        return 0
    lots.build()
    figures: dict = {}
    kept: dict[str, list] = {}
    if "cartons" in arguments.sets:
        figures["cartons"], kept["cartons"] = cartons(arguments.jobs)
    if "pairs" in arguments.sets:
        figures["pairs"] = pairs()
    if "orientation" in arguments.sets:
        figures["orientation"] = orientation()
    print(json.dumps(figures, indent=1))
    if arguments.write:
        path = results.write("real", {"kind": "real", **results.provenance(), "figures": figures}, kept)
        lots.say(f"wrote {path.relative_to(ROOT)}")
    return 0
