"""From what the engine decided to a row of the record, with the words for what is unsure."""

from __future__ import annotations

from station.capture.rack_view import RepStatus
from station.motion.events import FailedRep, NotMeasured, RepMeasured
from station.store.rows import NewRep

# Above this half-width of the 95 % interval a number is shown as uncertain and left out of the history: the
# published criterion for a usable device is a smallest detectable change below 0.07 m/s (Martinez-Cava et al. 2020,
# doi 10.1371/journal.pone.0232465). A sensor that was never calibrated stays well below it.
UNCERTAIN_FROM_M_S = 0.07

_WORDS = {
    "gap": "samples were lost",
    "clipped": "beyond the sensor's range",
    "uncertain": "the sensor's signal was unclear",
    "short": "shorter than usual",
}


def measured_rep(event: RepMeasured, number: int) -> NewRep:
    """A rep with its numbers; `uncertain` when its interval is too wide to be compared."""
    uncertain = event.uncertainty_m_s >= UNCERTAIN_FROM_M_S or "uncertain" in event.flags
    words = [_WORDS.get(flag, flag) for flag in event.flags]
    if uncertain:
        words.insert(0, f"± {event.uncertainty_m_s:.2f} m/s")
    return NewRep(
        number,
        RepStatus.UNCERTAIN if uncertain else RepStatus.MEASURED,
        event.start_time_s,
        event.end_time_s,
        event.decided_time_s,
        event.mean_velocity_m_s,
        event.mean_propulsive_velocity_m_s,
        event.peak_velocity_m_s,
        event.displacement_m,
        event.uncertainty_m_s,
        event.flags,
        ", ".join(words),
        event.curve_time_s,
        event.curve_m_s,
    )


def unmeasured_rep(event: NotMeasured, number: int) -> NewRep:
    """A rep that fell into a hole of the data: it counts, without a number."""
    return NewRep(
        number,
        RepStatus.NOT_MEASURED,
        event.start_time_s,
        event.end_time_s,
        event.decided_time_s,
        why=event.reason,
    )


def failed_rep(event: FailedRep) -> NewRep:
    """An upward movement that turned back: reported, not counted, so it has no number of its own (0)."""
    return NewRep(
        0,
        RepStatus.FAILED,
        event.start_time_s,
        event.end_time_s,
        event.decided_time_s,
        displacement_m=event.displacement_m,
        why="turned back before the top",
    )
