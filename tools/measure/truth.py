"""What is true of the photos of a rendered lot: one line a photo of its truth.jsonl."""

import dataclasses
import json
import pathlib
import re

# The conditions that the headline figures are over, in the order of the tables.
SEVEN = ("good", "weak", "blur", "tilt-glare", "partial", "smudge", "low-light")
# Conditions with figures of their own.
FURTHER = ("small", "impressed", "hollow", "across-ring", "distractor")
SEVERITIES = ("easy", "medium", "hard")
# What may be true of a photo in any condition.
TRAITS = ("light_on_dark", "impressed", "hollow", "across_ring", "small")


@dataclasses.dataclass(frozen=True)
class Truth:
    """One photo of a marked underside, or of something that has no mark of the library."""

    photo: str
    # `known` (its family is in the library), `unknown`, `unknown-sibling` (not in the library, but
    # shares the emblem of a family that is), `bare` (a base without a mark), `top`, or another
    # thing that is no underside.
    kind: str
    # `<maker>/<family>` of a known mark, else None.
    family: str | None = None
    # Folder of the variant, None for the family's main form.
    variant: str | None = None
    # Whether the library holds variants of this family.
    has_variants: bool = False
    # Whether the library holds other families that share this one's emblem.
    has_siblings: bool = False
    # Whether the photo shows what tells it from its siblings.
    decidable: bool = True
    condition: str = "good"
    severity: str | None = None
    traits: tuple[str, ...] = ()
    distractors: tuple[str, ...] = ()
    # The mark's box in the photo, None where there is no mark.
    quad: list[list[float]] | None = None

    @property
    def is_unknown(self) -> bool:
        return self.kind in ("unknown", "unknown-sibling")

    @property
    def is_known(self) -> bool:
        return self.kind == "known"


def slug(words: str) -> str:
    """`painter's number` as a key of the results: `painters-number`."""
    return re.sub(r"[^a-z0-9]+", "-", words.lower().replace("'", "")).strip("-")


def kind_of(row: dict) -> str:
    """The kind of a photo. A bare base that runs out of the frame is one with those that kiln cuts on
    purpose: the right answer to it is `reshoot`, not `no-mark`."""
    if row["kind"] == "bare" and not row["attributes"]["whole_base"]:
        return "cut-base"
    return row["kind"]


def read(path: pathlib.Path) -> dict[str, Truth]:
    """Truth by file name, in the order of the file."""
    rows = [json.loads(line) for line in path.read_text().splitlines() if line.strip()]
    known = [row for row in rows if row["kind"] == "known"]
    with_variants = {row["family"] for row in known if row["variant"]}
    return {
        row["file"]: Truth(
            photo=row["file"],
            kind=kind_of(row),
            family=row["family"] if row["kind"] == "known" else None,
            variant=row["variant"],
            has_variants=row["family"] in with_variants,
            has_siblings=bool(row["siblings"]),
            decidable=row["decidable"],
            condition=row["condition"],
            severity=row["severity"],
            traits=tuple(t for t in TRAITS if row["attributes"][t]),
            distractors=tuple(slug(thing) for thing in row["distractors"]),
            quad=row["quad"],
        )
        for row in rows
    }
