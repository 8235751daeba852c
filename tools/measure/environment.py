"""The Python of the outside checks: a virtual environment under target/ with pinned packages.

Run as a script it prints the interpreter's path."""

import hashlib
import pathlib
import subprocess
import sys

ROOT = pathlib.Path(__file__).resolve().parents[2]
FOLDER = ROOT / "target" / "outside-venv"
REQUIREMENTS = ROOT / "tests" / "outside" / "requirements.txt"


class NotAvailable(Exception):
    """The environment cannot be made here; the text says why and what to do."""


def python() -> pathlib.Path:
    """The environment's interpreter. Made on the first call; a stamp of the requirements keeps
    later calls from asking the network for anything."""
    interpreter = FOLDER / "bin" / "python"
    wanted = hashlib.sha256(REQUIREMENTS.read_bytes() + sys.version.encode()).hexdigest()
    stamp = FOLDER / "requirements.stamp"
    if interpreter.exists() and stamp.exists() and stamp.read_text() == wanted:
        return interpreter
    made = subprocess.run(
        [sys.executable, "-m", "venv", "--clear", FOLDER], capture_output=True, text=True
    )
    if made.returncode != 0:
        raise NotAvailable("python has no venv module: install the Debian package python3-venv")
    pip = [interpreter, "-m", "pip", "install", "--quiet", "--disable-pip-version-check"]
    pip += ["--only-binary", ":all:", "-r", REQUIREMENTS]
    done = subprocess.run(pip, capture_output=True, text=True)
    if done.returncode != 0:
        last = (done.stderr.strip().splitlines() or ["no message"])[-1]
        raise NotAvailable(f"the packages of {REQUIREMENTS.name} cannot be installed: {last}")
    stamp.write_text(wanted)
    return interpreter


if __name__ == "__main__":
    try:
        print(python())
    except NotAvailable as why:
        print(f"error: {why}", file=sys.stderr)
        sys.exit(1)
