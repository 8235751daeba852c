"""Overlap of quadrilaterals, as polygons clipped by one another (Sutherland and Hodgman 1974)."""

Quad = list[list[float]]


def area(points: Quad) -> float:
    """Signed area by the shoelace formula."""
    turn = zip(points, points[1:] + points[:1])
    return sum(a[0] * b[1] - b[0] * a[1] for a, b in turn) / 2


def clip(subject: Quad, window: Quad) -> Quad:
    """The part of `subject` inside the convex `window`."""
    if area(window) < 0:
        window = window[::-1]
    out = subject
    for a, b in zip(window, window[1:] + window[:1]):
        sides = [(b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]) for p in out]
        kept = []
        for i, p in enumerate(out):
            q, s, t = out[(i + 1) % len(out)], sides[i], sides[(i + 1) % len(out)]
            if s >= 0:
                kept.append(p)
            if (s >= 0) != (t >= 0):
                f = s / (s - t)
                kept.append([p[0] + f * (q[0] - p[0]), p[1] + f * (q[1] - p[1])])
        out = kept
    return out


def overlap(one: Quad, other: Quad) -> float:
    """Intersection over union of two convex quadrilaterals, 0 to 1."""
    shared = abs(area(clip(one, other)))
    union = abs(area(one)) + abs(area(other)) - shared
    return shared / union if union > 0 else 0.0
