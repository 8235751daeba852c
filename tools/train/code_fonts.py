"""Lays the fonts of the Debian packages in code_fonts.txt under target/train/code-fonts.

    python3 tools/train/code_fonts.py

Needs a Debian system with its package lists (`apt-get update`), and no root. Packages that are
laid already are not fetched again.
"""

import pathlib
import subprocess
import sys
import tempfile

HERE = pathlib.Path(__file__).resolve().parent
OUT = HERE.parents[1] / "target" / "train" / "code-fonts"


def lay(package: str) -> None:
    with tempfile.TemporaryDirectory() as work:
        done = subprocess.run(["apt-get", "download", "-qq", package], cwd=work, capture_output=True, text=True)
        if done.returncode != 0:
            sys.exit(f"code_fonts.py: cannot download {package}: {done.stderr.strip()}")
        for file in pathlib.Path(work).glob("*.deb"):
            subprocess.run(["dpkg", "-x", file, OUT / package], check=True)


def main() -> None:
    lines = (HERE / "code_fonts.txt").read_text().splitlines()
    for package in (line for line in lines if line and not line.startswith("#")):
        if not (OUT / package).exists():
            lay(package)


if __name__ == "__main__":
    main()
