"""Result files under tools/results: what was measured, on what, and every answer."""

import json
import os
import pathlib
import platform
import subprocess

ROOT = pathlib.Path(__file__).resolve().parents[2]
FOLDER = ROOT / "tools" / "results"


def _git(*arguments: str) -> str:
    done = subprocess.run(["git", *arguments], cwd=ROOT, capture_output=True, text=True)
    return done.stdout


def machine() -> dict:
    """Processor and number of cores; no host name."""
    model = platform.machine()
    try:
        for line in pathlib.Path("/proc/cpuinfo").read_text().splitlines():
            if line.startswith("model name"):
                model = line.split(":", 1)[1].strip()
                break
    except OSError:
        pass
    return {"cpu": model, "cores": os.cpu_count(), "system": platform.system()}


def provenance() -> dict:
    """The commit that was measured; `changed` names files that differed from it."""
    changed = [line[3:] for line in _git("status", "--porcelain").splitlines()]
    changed = [c for c in changed if not c.startswith("tools/results/")]
    return {"commit": _git("rev-parse", "HEAD").strip()[:12], "changed": changed, "machine": machine()}


def _lines(value, depth: int = 0) -> str:
    """JSON by lines: what holds only plain values stays on one."""
    nested = isinstance(value, dict) and any(isinstance(v, dict) for v in value.values())
    if not nested:
        return json.dumps(value, ensure_ascii=False)
    inner = ",\n".join(
        " " * (depth + 1) + json.dumps(key) + ": " + _lines(v, depth + 1)
        for key, v in value.items()
    )
    return "{\n" + inner + "\n" + " " * depth + "}"


def write(name: str, head: dict, answers: dict[str, list] | None = None) -> pathlib.Path:
    """Writes `tools/results/<name>.json`: the head by lines, then each answer on a line of its
    own, so that two runs can be compared by diff."""
    FOLDER.mkdir(parents=True, exist_ok=True)
    path = FOLDER / f"{name}.json"
    text = _lines(head)
    if answers is not None:
        groups = []
        for group, rows in answers.items():
            lines = ",\n".join(json.dumps(r, separators=(",", ":")) for r in rows)
            groups.append(f"{json.dumps(group)}: [\n{lines}\n]")
        text = text[:-2] + ',\n "answers": {\n' + ",\n".join(groups) + "\n}\n}"
    json.loads(text)
    part = path.with_suffix(".part")
    part.write_text(text + "\n")
    part.replace(path)
    return path


def read(name: str) -> dict:
    return json.loads((FOLDER / f"{name}.json").read_text())


def look_up(results: dict, key: str) -> float:
    """The number under a dotted key of a result file's `figures`; a share stands for its value.

    Raises KeyError where nothing stands there."""
    node = results["figures"]
    for part in key.split("."):
        node = node[part]
    if isinstance(node, dict):
        node = node["value"]
    if isinstance(node, bool) or not isinstance(node, (int, float)):
        raise KeyError(key)
    return node
