"""The first night: the photos of forty families, up to five of each, and an empty library. Whoever knows every mark by sight
names the largest group that `footring strangers` tells, again and again, or says which family it is one with; each
naming is one action. Whoever names a group looks at it: marks that are not of its commonest family are taken out, each
by an action of its own. Told is after how many actions how many photos are under the right family, counted as
`footring sort --json` tells them: named by the program or decided by the person."""

import argparse
import json
import pathlib
import subprocess
import tempfile
from collections import Counter, defaultdict

from . import lots, results
from .accuracy import contents_of

FAMILIES, EACH, ACTIONS = 40, 5, 60


def drawn(truth: pathlib.Path) -> dict[str, str]:
    """The family of each photo that is used: the families with most photos, the severities as they come."""
    by_family = defaultdict(list)
    for line in truth.read_text().splitlines():
        row = json.loads(line)
        if row["kind"] == "known" and not row.get("second"):
            by_family[row["family"]].append(row["file"])
    most = sorted(by_family, key=lambda f: (-len(by_family[f]), f))[:FAMILIES]
    return {file: family for family in most for file in sorted(by_family[family])[:EACH]}


class Desk:
    """A workspace that the release binary works on."""

    def __init__(self, folder: str):
        self.desk = pathlib.Path(folder, "desk")
        self.sale = pathlib.Path(folder, "sale")
        self.sale.mkdir()
        self.run("init", self.desk)

    def run(self, *words, fails: bool = False) -> str:
        command = [lots.program("footring"), *map(str, words)]
        if words[0] != "init":
            command += ["--workspace", str(self.desk)]
        done = subprocess.run(command, capture_output=True, text=True)
        # 1 tells of gaps: a photo that is none, a file that has moved.
        if done.returncode > 1 and not fails:
            raise SystemExit(f"{' '.join(command)}\n{done.stderr}")
        return done.stdout

    def right(self, family: dict[str, str]) -> set[str]:
        """The photos that are under the right family now."""
        rows = map(json.loads, self.run("sort", "--lot", "sale", "--json").splitlines())
        named = {pathlib.Path(r["photo"]).name: r.get("family") for r in rows}
        return {f for f, name in named.items() if name and name == family.get(f)}


def night(desk: Desk, family: dict[str, str], actions: int) -> dict:
    curve, wrong = [], 0
    made, tried = set(), set()
    while len(curve) < actions:
        groups = [json.loads(line) for line in desk.run("strangers", "--json").splitlines()]
        groups = [g for g in groups if g["group"] not in tried]
        if not groups:
            break
        group = max(groups, key=lambda g: len(g["marks"]))
        counts = Counter(family[m["photo"]] for m in group["marks"])
        name, most = counts.most_common(1)[0]
        wrong += len(group["marks"]) - most
        if name in made:
            # The family is there and did not name these.
            desk.run("decide", group["group"], "--family", name)
        else:
            desk.run("library", "new", name, "--from", group["group"], "--whole")
            made.add(name)
        tried.add(group["group"])
        for mark in group["marks"]:
            own = family[mark["photo"]]
            if own != name:
                said = ["--family", own] if own in made else ["--unknown"]
                desk.run("decide", desk.sale / mark["photo"], *said)
                curve.append(curve[-1] if curve else 0)
        curve.append(len(desk.right(family)))
        lots.say(f"{len(curve)} actions: {curve[-1]} of {len(family)} photos are right")
    return {"photos": len(family), "actions": len(curve), "right_after": curve, "in_mixed_groups": wrong}


def run(arguments: argparse.Namespace) -> None:
    lots.build()
    figures = {}
    for seed in arguments.seed or [1]:
        lot = lots.render(arguments.split, seed, contents_of(arguments))
        family = drawn(lot / "truth.jsonl")
        with tempfile.TemporaryDirectory() as folder:
            desk = Desk(folder)
            for file in family:
                (desk.sale / file).symlink_to((lot / "photos" / file).resolve())
            desk.run("intake", desk.sale, "--lot", "sale")
            found = night(desk, family, ACTIONS)
        found["share_right"] = round(found["right_after"][-1] / found["photos"], 4)
        figures[str(seed)] = found
    print(json.dumps(figures, indent=1))
    head = {"kind": "night", "split": arguments.split, "seeds": arguments.seed or [1]}
    head |= {"families": FAMILIES, **results.provenance(), "figures": figures}
    path = results.write(arguments.name or "night", head)
    lots.say(f"wrote {path.relative_to(results.ROOT)}")
