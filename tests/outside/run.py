"""Runs the checks against other software: every function `check_*` of every `checks_*.py` here.

    python run.py PROBE [WORD]     PROBE is the release binary of tools/probe; WORD filters by name

Prints one line a check: passed with what was measured, failed, or skipped with the reason. Ends
with 1 where one failed."""

import importlib
import pathlib
import sys
import tempfile
import traceback

HERE = pathlib.Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parents[1] / "tools")]

from probe import Probe, Skip  # noqa: E402


def checks():
    for path in sorted(HERE.glob("checks_*.py")):
        module = importlib.import_module(path.stem)
        for name in sorted(vars(module)):
            if name.startswith("check_"):
                yield f"{path.stem.removeprefix('checks_')}: {name[6:]}", getattr(module, name)


def main() -> int:
    word = sys.argv[2] if len(sys.argv) > 2 else ""
    failed = passed = skipped = 0
    for name, check in checks():
        if word not in name:
            continue
        with tempfile.TemporaryDirectory() as folder:
            try:
                note = check(Probe(pathlib.Path(sys.argv[1]).resolve(), pathlib.Path(folder)))
            except Skip as why:
                skipped += 1
                print(f"skipped  {name}: {why}")
            except Exception:
                failed += 1
                print(f"FAILED   {name}\n{traceback.format_exc()}")
            else:
                passed += 1
                print(f"passed   {name}: {note}" if note else f"passed   {name}")
    print(f"outside: {passed} passed, {failed} failed, {skipped} skipped")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
