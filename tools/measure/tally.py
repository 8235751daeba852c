"""Shares of right answers by key and seed, with their intervals."""

from collections import defaultdict

from .intervals import wilson


class Tally:
    """Counts under dotted keys, apart for each seed."""

    def __init__(self) -> None:
        self._counts: dict[str, dict[int, list[int]]] = defaultdict(dict)

    def add(self, key: str, seed: int, hit: bool) -> None:
        cell = self._counts[key].setdefault(seed, [0, 0])
        cell[0] += bool(hit)
        cell[1] += 1

    def share(self, key: str) -> dict | None:
        """Mean over seeds of the share under `key`; the Wilson interval is of the pooled counts."""
        seeds = self._counts.get(key)
        if not seeds:
            return None
        per_seed = [k / n for k, n in seeds.values()]
        k, n = (sum(cell[i] for cell in seeds.values()) for i in (0, 1))
        low, high = wilson(k, n)
        share = {"value": sum(per_seed) / len(per_seed), "k": k, "n": n, "low": low, "high": high}
        share = {name: round(v, 5) if isinstance(v, float) else v for name, v in share.items()}
        if len(per_seed) > 1:
            share["seeds"] = {str(s): round(k / n, 5) for s, (k, n) in seeds.items()}
        return share

    def tree(self) -> dict:
        """All shares, nested along the dots of their keys."""
        root: dict = {}
        for key in sorted(self._counts):
            node = root
            *path, leaf = key.split(".")
            for part in path:
                node = node.setdefault(part, {})
            node[leaf] = self.share(key)
        return root
