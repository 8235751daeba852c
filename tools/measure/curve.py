"""What more exemplars of a family are worth: photos of known families are looked at with one, two and three other
photos of each family as exemplars, and told is how often the right family comes first, by severity, with Wilson
intervals. Beside that near-copies of the first exemplar (saved again at another quality) stand in for the second and
third ones: what they add, a right second one must surpass."""

import argparse
import json
import pathlib
import subprocess
import tempfile
from collections import defaultdict

from . import environment, intervals, lots, results
from .accuracy import contents_of

MOST = 3

# Runs in the outside environment, which has Pillow.
AGAIN = """
import pathlib, sys
from PIL import Image
source, target, quality = pathlib.Path(sys.argv[1]), pathlib.Path(sys.argv[2]), int(sys.argv[3])
Image.open(source).convert("RGB").save(target, quality=quality)
"""


def split(truth: pathlib.Path) -> tuple[dict[str, list[dict]], list[dict]]:
    """Photos that become exemplars, in the order of their names, which is by chance, as photos come in; and those that
    are looked at. (With the easiest as first exemplar nearly nothing is left to gain.)"""
    by_family = defaultdict(list)
    for line in truth.read_text().splitlines():
        row = json.loads(line)
        if row["kind"] == "known" and row["decidable"] and not row.get("second"):
            by_family[row["family"]].append(row)
    exemplars, looked = {}, []
    for family, rows in sorted(by_family.items()):
        rows.sort(key=lambda r: r["file"])
        if len(rows) > MOST:
            exemplars[family] = rows[:MOST]
            looked += rows[MOST:]
    return exemplars, looked


def library(folder: pathlib.Path, photos: pathlib.Path, exemplars: dict[str, list[dict]], copies: bool, count: int):
    for family, rows in exemplars.items():
        home = folder / family
        home.mkdir(parents=True)
        text = [f'name = "{family}"']
        for place in range(count):
            row = rows[0 if copies else place]
            file = f"{place}.jpg"
            if copies and place:
                quality = str(88 - 8 * place)
                command = [environment.python(), "-c", AGAIN, photos / row["file"], home / file, quality]
                subprocess.run(command, check=True)
            else:
                (home / file).symlink_to((photos / row["file"]).resolve())
            text += ["[[image]]", f'file = "{file}"', f'quad = {row["quad"]}']
        (home / "mark.toml").write_text("\n".join(text) + "\n")


def first(library: pathlib.Path, photos: list[pathlib.Path], jobs: int) -> dict[str, str]:
    """The family that comes first, by file name."""
    command = [lots.program("footring"), "match", "--json", "--library", library, "--jobs", str(jobs), *photos]
    out = subprocess.run(command, capture_output=True, text=True)
    found = {}
    for line in out.stdout.splitlines():
        answer = json.loads(line)
        families = [m["candidates"][0]["family"] for m in answer["marks"] if m["candidates"]]
        found[pathlib.Path(answer["photo"]).name] = families[0] if families else ""
    return found


def rates(looked: list[dict], found: dict[str, str]) -> dict:
    figures = {}
    for severity in ("easy", "medium", "hard"):
        rows = [r for r in looked if r["severity"] == severity]
        hits = sum(found.get(r["file"]) == r["family"] for r in rows)
        if rows:
            low, high = intervals.wilson(hits, len(rows))
            figures[severity] = {"first": hits, "of": len(rows), "interval": [round(low, 4), round(high, 4)]}
    return figures


def run(arguments: argparse.Namespace) -> None:
    lots.build()
    seeds = arguments.seed or [1]
    ways = [("1", False, 1), ("2", False, 2), ("3", False, 3), ("3 near-copies", True, 3)]
    looked, found = [], defaultdict(dict)
    for seed in seeds:
        lot = lots.render(arguments.split, seed, contents_of(arguments))
        exemplars, rows = split(lot / "truth.jsonl")
        rows = rows[:: arguments.every]
        photos = [lot / "photos" / r["file"] for r in rows]
        looked += [r | {"file": f"{seed} {r['file']}"} for r in rows]
        for name, copies, count in ways:
            with tempfile.TemporaryDirectory() as folder:
                library(pathlib.Path(folder), lot / "photos", exemplars, copies, count)
                answers = first(pathlib.Path(folder), photos, arguments.jobs or 2)
            found[name] |= {f"{seed} {file}": family for file, family in answers.items()}
    figures = {name: rates(looked, answers) for name, answers in found.items()} | {"photos": len(looked)}
    print(json.dumps(figures, indent=1))
    head = {"kind": "curve", "split": arguments.split, "seeds": seeds}
    head |= {**results.provenance(), "figures": figures}
    path = results.write(arguments.name or "curve", head)
    lots.say(f"wrote {path.relative_to(results.ROOT)}")
