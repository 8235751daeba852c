"""What is true of the photos of a rendered lot: one line a photo of its truth.jsonl."""

import dataclasses
import json
import pathlib

# The conditions that the headline figures are over, in the order of the tables.
SEVEN = ("good", "weak", "blur", "tilt-glare", "partial", "smudge", "low-light")
# Conditions with figures of their own.
FURTHER = ("small", "impressed", "hollow", "across-ring")
SEVERITIES = ("easy", "medium", "hard")


@dataclasses.dataclass(frozen=True)
class Truth:
    """One photo. `kind` is `marked`, `bare` (a base without a mark) or `top`."""

    photo: str
    kind: str
    # `<maker>/<family>` for a mark whose family is in the library, else None.
    family: str | None
    # Folder of the variant, None for the family's main form.
    variant: str | None
    # Whether the family has variants in the library and the photo shows which one it is.
    variant_decidable: bool
    # None for a known mark, `mark` or `sibling` for one that is not in the library.
    unknown: str | None
    # Whether the library holds other families that share this one's emblem.
    has_siblings: bool
    # Whether the photo shows what tells it from its siblings.
    decidable: bool
    condition: str
    severity: str | None
    # `light-on-dark` and the distractors in view.
    tags: tuple[str, ...]
    # The mark's box in the photo, None where there is no mark.
    quad: list[list[float]] | None


def from_row(row: dict) -> Truth:
    """Reads a line as the renderer writes it."""
    family = row.get("family")
    unknown = row.get("unknown")
    return Truth(
        photo=pathlib.PurePath(row["photo"]).name,
        kind=row["kind"],
        family=None if unknown else family,
        variant=row.get("variant"),
        variant_decidable=bool(row.get("variant_decidable", False)),
        unknown=unknown,
        has_siblings=bool(row.get("siblings")),
        decidable=bool(row.get("decidable", True)),
        condition=row.get("condition", "good"),
        severity=row.get("severity"),
        tags=tuple(row.get("tags", ())) + tuple(row.get("distractors", ())),
        quad=row.get("quad"),
    )


def read(path: pathlib.Path) -> dict[str, Truth]:
    """Truth by file name, in the order of the file."""
    rows = (json.loads(line) for line in path.read_text().splitlines() if line.strip())
    return {t.photo: t for t in map(from_row, rows)}
