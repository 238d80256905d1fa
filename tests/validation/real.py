"""What the engine makes of the recordings of real sensors, the bad ones too. Sources: tests/data/README.md."""

from __future__ import annotations

import numpy as np
from rich.table import Table

from drivers.recording import read_recording
from station.commands.replay import PlacementChoice, measured
from station.motion.events import JumpMeasured, RepMeasured
from tests.motion.recordings import HAND, WALKS, optical_strokes


def real_table() -> Table:
    """Strokes by hand against optics, one row each, and walking."""
    table = Table(title="Real sensors")
    for head in ("recording", "optics: start", "MV", "station: MV", "error", "±U", "PV error"):
        table.add_column(head, justify="left" if head == "recording" else "right")
    errors = []
    reps = _reps(PlacementChoice.BAR)
    for start, end, rise, mean, peak in optical_strokes():
        if rise <= 0.2:
            continue
        found = [rep for rep in reps if rep.start_time_s < 0.5 * (start + end) < rep.end_time_s]
        if len(found) != 1:
            table.add_row("hand", f"{start:.2f} s", f"{mean:.3f}", "missed")
            continue
        errors.append(found[0].mean_velocity_m_s - mean)
        station = f"{found[0].mean_velocity_m_s:.3f}"
        off = f"{100 * (found[0].peak_velocity_m_s / peak - 1):+.1f} %"
        row = (f"{errors[-1]:+.3f}", f"{found[0].uncertainty_m_s:.3f}", off)
        table.add_row("hand", f"{start:.2f} s", f"{mean:.3f}", station, *row)
    table.add_row(
        "hand, all", "", "", f"{len(errors)} found", f"{np.mean(errors):+.4f} SD {np.std(errors, ddof=1):.4f}"
    )
    for path in WALKS:
        events = {kind: list(measured(read_recording(path), kind, None)) for kind in PlacementChoice}
        counted = sum(isinstance(event, RepMeasured) for event, _ in events[PlacementChoice.BAR])
        jumped = sum(isinstance(event, JumpMeasured) for event, _ in events[PlacementChoice.BELT])
        table.add_row(path.stem, "", "", f"{counted} reps, {jumped} jumps")
    return table


def _reps(placement: PlacementChoice) -> list[RepMeasured]:
    found = measured(read_recording(HAND), placement, None)
    return [event for event, _ in found if isinstance(event, RepMeasured)]
