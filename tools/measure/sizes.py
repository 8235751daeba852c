"""What a larger library costs in accuracy: the same photos against their own library, and against it with the families of
other lots beside, up to a thousand.

The further families are those of the split's other lots that lie rendered in target/bench, each picture once: they only
stand in the library, and nothing is fitted. Clean scans, one exemplar a family.
"""

import hashlib
import os
import pathlib
import shutil
import tempfile

from . import accuracy, answers, lots, results, truth
from .score import right_at
from .tally import Tally
from .truth import SEVEN

SIZES = (120, 1000)


def _gathered(own: pathlib.Path, others: list[pathlib.Path], families: int, into: pathlib.Path) -> int:
    """A library of the families of `own` and of as many others as are wanted; how many it has."""
    seen: set[bytes] = set()
    count = 0
    for at, library in enumerate([own, *others]):
        for family in sorted(p.parent for p in library.rglob("mark.png")):
            if at and count >= families:
                return count
            # A lot may lie there twice, with more of its photos and with fewer.
            picture = hashlib.sha256((family / "mark.png").read_bytes()).digest()
            if picture in seen:
                continue
            seen.add(picture)
            maker, name = family.relative_to(library).parts
            # Makers of other lots may bear the same names.
            target = into / (maker if at == 0 else f"{maker}-{at}") / name
            shutil.copytree(family, target, copy_function=os.link)
            count += 1
    return count


def run(arguments) -> int:
    if not arguments.seed:
        raise SystemExit("error: --kind sizes takes --seed")
    lots.build()
    lot = lots.render(arguments.split, arguments.seed[0], accuracy.contents_of(arguments))
    own = lot / lots.PROTOCOLS["clean"]
    others = sorted(p for p in lots.BENCH.glob(f"{arguments.split}-*/" + lots.PROTOCOLS["clean"]) if p.parent != lot)
    facts = truth.read(lot / "truth.jsonl")
    known = [p for p in lots.photos_of(lot / "photos", 1) if facts[p.name].is_known and facts[p.name].condition in SEVEN]
    photos = known[:: arguments.every]
    tally, counts = Tally(), {}
    for size in SIZES:
        # Beside the lots, so that exemplars need not be copied.
        with tempfile.TemporaryDirectory(dir=lots.BENCH) as folder:
            library = pathlib.Path(folder) / "library"
            counts[str(size)] = _gathered(own, others, size, library)
            out = lots.match(library, photos, pathlib.Path(folder) / "answers.jsonl", jobs=arguments.jobs)
            for name, answer in answers.read(out).items():
                fact, seed = facts[name], arguments.seed[0]
                tally.add(f"families-{size}.top1", seed, right_at(fact, answer, 1))
                if fact.decidable:
                    tally.add(f"families-{size}.top1_decidable", seed, right_at(fact, answer, 1))
                    right = answer.verdict == "named" and right_at(fact, answer, 1)
                    tally.add(f"families-{size}.named_right", seed, right)
    head = {
        "kind": "sizes",
        "split": arguments.split,
        "seeds": arguments.seed[:1],
        "every": arguments.every,
        "families": counts,
        "photos": len(photos),
        **results.provenance(),
        "figures": tally.tree(),
    }
    path = results.write(arguments.name or "sizes", head)
    lots.say(f"wrote {path.relative_to(results.ROOT)}")
    return 0
