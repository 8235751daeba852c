"""Renders lots and runs the programs that are measured on them."""

import dataclasses
import os
import pathlib
import shutil
import subprocess
import sys

from . import environment
from .results import ROOT

BENCH = ROOT / "target" / "bench"
PROTOCOLS = {"clean": "library-clean", "photo": "library-photo"}
YARDSTICK = ROOT.parent / "shared" / "yardstick" / "opencv_match.py"
PHOTO_SUFFIXES = {".jpg", ".jpeg", ".png"}


def say(text: str) -> None:
    print(text, file=sys.stderr, flush=True)


def build() -> None:
    """The release build of all members at once: building them apart would settle the features of
    shared crates anew each time and compile the engine again. Nothing is built where `BENCH_PROGRAMS` names a
    folder of built programs."""
    if "BENCH_PROGRAMS" in os.environ:
        return
    command = ["cargo", "build", "--release", "--workspace", "--locked", "--quiet"]
    subprocess.run(command, cwd=ROOT, check=True)


def program(name: str) -> pathlib.Path:
    target = pathlib.Path(os.environ.get("CARGO_TARGET_DIR", ROOT / "target"))
    return pathlib.Path(os.environ.get("BENCH_PROGRAMS", target / "release")) / name


@dataclasses.dataclass(frozen=True)
class Contents:
    """What a lot holds besides the known marks under the seven conditions."""

    families: int = 120
    # Three seeds together come to over 500 unknown marks and as many unknown siblings, 300 bases
    # without a mark and over 200 tops.
    unknown: int = 170
    unknown_siblings: int = 170
    bare: int = 100
    tops: int = 70
    # The further conditions and the distractors.
    extras: bool = True
    # Only every so many-th photo of all that is rendered, the same ones as in the whole lot.
    thin: int = 1
    # Only families with codes, a quarter of whose pieces carry none and a tenth something else.
    codes: bool = False
    # Photos with one fault of each cause, and of no other conditions.
    faults: int = 0
    # Photos of unknown marks as a season of sales brings them, and of no others.
    season: bool = False
    # Who draws it: `kiln`, or `lathe`, which shares nothing with it.
    renderer: str = "kiln"

    def flags(self) -> list[str]:
        counts = {"families": self.families, "unknown": self.unknown, "bare": self.bare}
        counts |= {"unknown-siblings": self.unknown_siblings, "tops": self.tops}
        words = [w for name, n in counts.items() for w in (f"--{name}", str(n))]
        words += ["--every", str(self.thin)]
        words += ["--codes"] if self.codes else []
        words += ["--faults", str(self.faults), "--no-known"] if self.faults else []
        words += ["--season", "--no-known"] if self.season else []
        if self.renderer == "lathe":
            # Each family once under each of the seven conditions.
            words += ["--photos", str(7 * self.families)]
        return words + (["--extras"] if self.extras else [])


def folder_of(split: str, seed: int, contents: Contents) -> pathlib.Path:
    """Where a lot lies; other contents than the usual ones are told in its name."""
    usual, tag = Contents(), ""
    for field in dataclasses.fields(Contents):
        value = getattr(contents, field.name)
        if value != getattr(usual, field.name):
            value = value if isinstance(value, str) else int(value)
            tag += f"-{field.name.replace('_', '-')}-{value}"
    return BENCH / f"{split}-{seed}{tag}"


def render(split: str, seed: int, contents: Contents) -> pathlib.Path:
    """The folder of a lot; rendered where it is not there yet. The truth is written last, so a lot
    that was cut off half-way is rendered anew."""
    lot = folder_of(split, seed, contents)
    if (lot / "truth.jsonl").exists():
        return lot
    shutil.rmtree(lot, ignore_errors=True)
    lot.mkdir(parents=True)
    say(f"rendering {lot.relative_to(ROOT)}")
    if contents.renderer == "lathe":
        command = [ROOT / "tools" / "lathe" / "render", lot, "--seed", str(seed)]
    else:
        subprocess.run([ROOT / "tools" / "artwork" / "fetch"], check=True, stdout=sys.stderr)
        command = [program("kiln"), "lot", "--split", split, "--seed", str(seed), "--out", lot]
    subprocess.run(command + contents.flags(), check=True, stdout=sys.stderr, cwd=ROOT)
    return lot


def photos_of(folder: pathlib.Path, every: int) -> list[pathlib.Path]:
    """Every `every`th photo by name: the same ones the yardstick takes."""
    return sorted(p for p in folder.iterdir() if p.suffix.lower() in PHOTO_SUFFIXES)[::every]


def match(
    library: pathlib.Path,
    photos: list[pathlib.Path],
    out: pathlib.Path,
    top: int = 5,
    jobs: int | None = None,
) -> pathlib.Path:
    """Runs the release binary's `match` on the photos and keeps its JSON Lines."""
    folder = photos[0].parent
    command = [program("footring"), "match", "--json", "--timings", "--no-cache"]
    command += ["--top", str(top), "--library", library]
    command += ["--jobs", str(jobs)] if jobs else []
    command += [p.name for p in photos]
    say(f"matching {len(photos)} photos against {library.name}")
    part = out.with_suffix(".part")
    with part.open("wb") as sink:
        done = subprocess.run(command, cwd=folder, stdout=sink)
    if done.returncode != 0:
        raise SystemExit(f"error: `footring match` ended with {done.returncode} on {folder}")
    part.replace(out)
    return out


def yardstick(
    library: pathlib.Path, photos: pathlib.Path, every: int, out: pathlib.Path
) -> pathlib.Path | None:
    """Runs the general-purpose yardstick as it is on the same files; None where it is absent.
    Its answers are kept: it does not change between runs."""
    if not YARDSTICK.exists():
        say("skipped: the yardstick is not beside this checkout")
        return None
    if out.exists():
        return out
    say(f"yardstick on {photos.parent.name}, {library.name}")
    part = out.with_suffix(".part")
    command = [environment.python(), YARDSTICK, library, photos, "--every", str(every)]
    with part.open("wb") as sink:
        subprocess.run(command, stdout=sink, check=True)
    part.replace(out)
    return out
