"""What a library of ten thousand families costs. The exemplars of a rendered lot are repeated with noise in their
imprints, so that they are as near to one another as those of other families are; each is a family of its own. Told are
the time of a match without reading the photo, the memory that a library of each size holds, the time in which a library
of ten thousand folders on disk is read at a start, and the time to take one more in."""

import argparse
import json
import pathlib
import subprocess
import tempfile

from . import lots, results
from .accuracy import contents_of

COUNTS = (100, 1000, 10_000, 100_000)
# Families between which the time of a match is compared, and those of the library that is read from disk.
FEW, MANY = 100, 10_000
# With noise as long as the imprint two likenesses of one exemplar have a cosine of a half, as two other marks may.
NOISE = 1.0
PHOTOS = 15
# What a library may cost.
MOST = {"match_ratio": 2.0, "start_ms": 1000.0, "bytes_of_100000": 600e6, "one_more_ms": 100.0}


def run(arguments: argparse.Namespace) -> int:
    lots.build()
    seed = (arguments.seed or [1])[0]
    lot = lots.render(arguments.split, seed, contents_of(arguments))
    photos = lots.photos_of(lot / "photos", 1)
    photos = photos[:: max(1, len(photos) // PHOTOS)][:PHOTOS]
    most = arguments.most or COUNTS[-1]
    request = {"library": str(lot / lots.PROTOCOLS["clean"]), "photos": [str(p) for p in photos]}
    request |= {"counts": [n for n in COUNTS if n <= most], "noise": NOISE, "jobs": arguments.jobs or 2}
    with tempfile.TemporaryDirectory(dir=lots.BENCH) as folder:
        request |= {"start": min(MANY, most), "folder": str(pathlib.Path(folder) / "scale")}
        command = [lots.program("probe"), "scale"]
        done = subprocess.run(command, input=json.dumps(request), capture_output=True, text=True, check=True)
    figures = json.loads(done.stdout)
    by_count = {row["families"]: row for row in figures["rows"]}
    few, many, last = by_count[min(FEW, most)], by_count[min(MANY, most)], figures["rows"][-1]
    found = {
        "match_ratio": round(many["match_ms"] / few["match_ms"], 3),
        "start_ms": figures["start"]["warm_ms"],
        "bytes_of_100000": round(last["held_bytes"] * 100_000 / last["families"]),
        "one_more_ms": round(figures["prepare_one_ms"] + many["add_ms"], 1),
    }
    figures["held"] = {name: found[name] <= most for name, most in MOST.items()}
    figures["found"] = found
    print(json.dumps(figures, indent=1))
    head = {"kind": "scale", "split": arguments.split, "seeds": [seed], "noise": NOISE, "most": MOST}
    head |= {**results.provenance(), "figures": figures}
    path = results.write(arguments.name or "scale", head)
    lots.say(f"wrote {path.relative_to(results.ROOT)}")
    return 0 if all(figures["held"].values()) else 1
