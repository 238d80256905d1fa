"""Cycles of Qt objects are taken apart on the screen's thread, never on a worker's.

Python collects on whatever thread happens to allocate. A worker that takes a widget apart holds Qt's lock and waits
for the interpreter; the screen's thread, in the same moment, has the interpreter and waits for Qt's lock: both stand
still for ever. So the automatic collection is off in a program with screens, and its own rule is followed here.
"""

from __future__ import annotations

import gc
import time
from collections.abc import Callable, Sequence

from PySide6.QtCore import QObject, QTimer

LOOK_EVERY_MS = 200
# A collection of everything holds the screen up; what only it would find is little.
EVERYTHING_EVERY_S = 60.0


def due(counts: Sequence[int], thresholds: Sequence[int], *, everything: bool = True) -> int | None:
    """The oldest generation whose count has passed its threshold, as Python's own rule has it; None: none.

    Args:
        counts, thresholds: as `gc.get_count` and `gc.get_threshold` give them.
        everything: whether the last generation, which is all there is, may be collected.
    """
    for generation in range(len(counts) - 1, -1, -1):
        if counts[generation] > thresholds[generation] and (everything or generation < len(counts) - 1):
            return generation
    return None


class CollectHere(QObject):
    """Turns the automatic collection off for good and collects on the thread it was made on, while its loop runs.

    Args:
        parent: the application.
        clock_s: monotonic.
    """

    def __init__(self, parent: QObject, clock_s: Callable[[], float] = time.monotonic) -> None:
        super().__init__(parent)
        gc.disable()
        self._clock_s = clock_s
        self._everything_at_s = clock_s()
        self._timer = QTimer(self, interval=LOOK_EVERY_MS)
        self._timer.timeout.connect(self.collect)
        self._timer.start()

    def collect(self) -> None:
        """One look: collect what is due."""
        everything = self._clock_s() - self._everything_at_s >= EVERYTHING_EVERY_S
        generation = due(gc.get_count(), gc.get_threshold(), everything=everything)
        if generation is None:
            return
        gc.collect(generation)
        if generation == 2:
            self._everything_at_s = self._clock_s()
