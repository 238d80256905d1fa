"""Where a velocity curve passes a level between two of its samples."""

from __future__ import annotations

from drivers.samples import FloatArray

_CUBIC = 4
_STEPS = 16  # between two samples, to look for a crossing


def crossing(time: FloatArray, velocity: FloatArray, below: int, step: int, level: float) -> float:
    """Time between sample `below` and its neighbour by `step` where velocity passes the level.

    On the cubic through the four samples around: a bar that stops quickly bends the curve within 10 ms, and straight
    lines between samples of 100 Hz put its end 1.5 ms late.
    """
    below = min(max(below, 0), len(velocity) - 1)
    above = min(max(below + step, 0), len(velocity) - 1)
    if velocity[above] <= velocity[below] or velocity[below] >= level:
        return float(time[below])
    if velocity[above] < level:
        return float(time[above])
    first = min(max(min(below, above) - 1, 0), max(len(velocity) - _CUBIC, 0))
    near = slice(first, first + _CUBIC)
    share = (time[near] - time[below]) / (time[above] - time[below])
    at = _first_root(share.tolist(), (velocity[near] - level).tolist())
    return float(time[below] + at * (time[above] - time[below]))


def _first_root(x: list[float], y: list[float]) -> float:
    """Where the polynomial through these points first rises to zero between 0 and 1, by Newton's divided differences.

    Plain numbers: a decision looks for dozens of crossings, and numpy is slower over four points.
    """
    terms = list(y)
    for order in range(1, len(x)):
        for k in range(len(x) - 1, order - 1, -1):
            terms[k] = (terms[k] - terms[k - 1]) / (x[k] - x[k - order])
    before = 0.0
    for step in range(_STEPS + 1):
        value = terms[-1]
        for k in range(len(x) - 2, -1, -1):
            value = value * (step / _STEPS - x[k]) + terms[k]
        if value >= 0.0 and step:
            return (step - 1 + min(max(-before / (value - before), 0.0), 1.0)) / _STEPS
        before = value
    return 1.0
