"""Repetitions that a hole in the data hides: told from what was seen before and after it, never guessed."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field

from station.motion.attitude import Stillness
from station.motion.bounds import Movement
from station.motion.events import NotMeasured
from station.motion.frame_estimate import FrameEstimate
from station.motion.judge import Ascent, Judge

_LOOK_BACK_S = 6.0
_UNDER_WAY_M = 0.1
_SPEED_UNKNOWN_S = 0.25  # so long after a hole nothing shows yet how fast the bar moved at its end
_COMES_UP_WITHIN_S = 4.0

IN_THE_MIDDLE = "samples were lost in the middle of a movement"
AT_ITS_BEGINNING = "samples were lost at its beginning"
WHOLE = "samples were lost while the bar was down"


@dataclass
class HoleWatch:
    """Follows holes that end what was going on.

    A bar that was last seen at the bottom comes up in the hole or after it; which of the two is known only once it is
    seen to rise, to come down again, or to stay where it is.
    """

    judge: Judge
    _heights: deque[tuple[float, float]] = field(default_factory=deque)
    _alone: bool = False
    _end_s: float = -1.0
    _told_until_s: float = -1.0
    _counted: bool = False
    _pending: NotMeasured | None = None

    def follow(self, estimate: FrameEstimate) -> None:
        """One more frame without a hole."""
        self._heights.append((estimate.end_s, estimate.height_m))
        while estimate.end_s - self._heights[0][0] > _LOOK_BACK_S:
            self._heights.popleft()
        self._alone = estimate.stillness == Stillness.ALONE

    def hole(self, start_s: float, end_s: float, risen_m: float) -> list[NotMeasured]:
        """A hole; `risen_m` is how far a movement under way had come up. What is known to be not measured by now."""
        events = self.settle(end_s)
        self._counted = risen_m > _UNDER_WAY_M
        if self._counted:
            events.append(NotMeasured(start_s, end_s, end_s, IN_THE_MIDDLE))
        elif self._was_down():
            self._pending = NotMeasured(start_s, end_s, end_s, WHOLE)
        self._heights.clear()
        self._end_s = end_s
        return events

    def settle(self, now_s: float) -> list[NotMeasured]:
        """The bar does not come up any more: it did in the hole."""
        pending, self._pending = self._pending, None
        if pending is None:
            return []
        self._counted = True
        return [_decided(pending, now_s)]

    def overdue(self, now_s: float) -> bool:
        """Whether a bar that was down has not been seen to come up for long."""
        return self._pending is not None and now_s - self._pending.end_time_s > _COMES_UP_WITHIN_S

    def forget(self) -> None:
        """A set starts anew."""
        self._pending = None

    def rose(self, movement: Movement, ascent: Ascent, now_s: float) -> list[NotMeasured]:
        """An upward movement clear of any hole: a bar that came down before it had come up in the hole."""
        self._told_until_s = movement.end_time_s
        if ascent.dropped_before_m > 0.5 * ascent.displacement_m:
            return self.settle(now_s)
        self._pending = None
        return []

    def began_in(self, movement: Movement) -> bool:
        """Whether a movement began in a hole, or so soon after it that its speed is not known."""
        return self._end_s >= 0.0 and movement.start_time_s < self._end_s + _SPEED_UNKNOWN_S

    def rest_of(self, movement: Movement, now_s: float) -> list[NotMeasured]:
        """What began in a hole: not measured, unless it is the rest of what has been reported already."""
        seen, usual = movement.displacement_m, self.judge.usual_range_m
        again = movement.start_time_s < self._told_until_s  # looked at once more, with more behind it
        if seen < _UNDER_WAY_M or again:
            return self.settle(now_s)
        counted, self._counted, self._pending = self._counted, False, None
        self._told_until_s = movement.end_time_s
        if counted and (usual is None or self.judge.is_attempt(seen)):
            return []
        return [NotMeasured(movement.start_time_s, movement.end_time_s, now_s, AT_ITS_BEGINNING)]

    def _was_down(self) -> bool:
        """Whether the bar of a lift that begins downward was last seen well below where it had been."""
        lift = self.judge.lift
        if lift is None or lift.concentric_first or self._alone or not self._heights:
            return False
        least = 0.5 * (self.judge.usual_range_m or lift.shortest_range_m)
        return max(height for _, height in self._heights) - self._heights[-1][1] > max(least, _UNDER_WAY_M)


def _decided(event: NotMeasured, now_s: float) -> NotMeasured:
    return NotMeasured(event.start_time_s, event.end_time_s, now_s, event.reason)
