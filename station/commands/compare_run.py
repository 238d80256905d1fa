"""`compare`: a club's own proof, our repetitions beside those of its reference device."""

from __future__ import annotations

from collections import defaultdict
from pathlib import Path

import numpy as np
from rich.console import Console

from station.commands.compare_files import CompareFileError, OneRep, matched, read_ours, read_reference
from station.commands.fail import fail
from station.readiness.agreement import (
    DETECTABLE_CRITERION_M_S,
    Agreement,
    Repeatability,
    agreement,
    repeatability,
)


def run_compare(reps: Path, reference: Path, plot: Path) -> None:
    """Print how two devices agree and draw it."""
    try:
        ours, theirs = read_ours(reps), read_reference(reference)
        pairs, ours_alone, theirs_alone = matched(ours, theirs)
        found = agreement(_speeds(pairs, 0), _speeds(pairs, 1))
    except (CompareFileError, ValueError) as error:
        fail(str(error))
    console = Console(emoji=False, highlight=False, markup=False, soft_wrap=True)
    for line in words(found, ours_alone, theirs_alone):
        console.print(line)
    for name, which in (("ours", 0), ("reference", 1)):
        days = repeatability(_by_day([(pair[which], pair[1]) for pair in pairs]))
        if days is not None:
            console.print(day_words(name, days))
    from station.screens.agreement_plot import plot_agreement

    plot_agreement(_speeds(pairs, 0), _speeds(pairs, 1), found, plot)
    console.print(f"Plot: {plot}")


def _speeds(pairs: list[tuple[OneRep, OneRep]], which: int) -> np.ndarray:
    return np.array([pair[which].velocity_m_s for pair in pairs])


def words(found: Agreement, ours_alone: int, theirs_alone: int) -> list[str]:
    """What was found, a line each."""
    verdict = "meets" if found.meets_criterion else "does not meet"
    return [
        f"{found.pairs} repetitions compared; {ours_alone} of ours and {theirs_alone} of the reference have no "
        "counterpart and count nowhere.",
        f"Bias (ours minus reference) {found.bias:+.4f} m/s, 95 % interval ± {found.bias_half_width:.4f}; it changes "
        f"by {found.slope:+.3f} m/s per m/s of speed.",
        f"SD of the differences {found.sd:.4f} m/s; limits of agreement {found.lower:+.4f} to "
        f"{found.upper:+.4f} m/s.",
        f"Smallest detectable change {found.detectable:.4f} m/s: {verdict} the published criterion of "
        f"{DETECTABLE_CRITERION_M_S} m/s.",
    ]


def day_words(name: str, days: Repeatability) -> str:
    """The typical error in words."""
    return (
        f"Day to day, {name}: typical error {days.typical_error:.4f} m/s over {days.pairs_of_days} changes; smallest "
        f"detectable change {days.detectable:.4f} m/s."
    )


def _by_day(reps: list[tuple[OneRep, OneRep]]) -> dict[object, list[float]]:
    """The fastest repetition of each day, of each athlete, lift and load that the reference's table names."""
    best: dict[tuple[tuple[str, str, str], str], float] = {}
    for rep, named in reps:
        if named.subject[0] and named.day:
            key = (named.subject, named.day)
            best[key] = max(best.get(key, 0.0), rep.velocity_m_s)
    days: dict[object, list[float]] = defaultdict(list)
    for (subject, _), velocity in sorted(best.items()):
        days[subject].append(velocity)
    return days
