"""Which upward movements are repetitions: what is known of the lift, of this athlete's range and of this set."""

from __future__ import annotations

from dataclasses import dataclass, field
from statistics import median
from typing import Literal

from station.squad.lifts import Lift

Verdict = Literal["rep", "failed", "nothing"]

_UNKNOWN_LIFT_SHORTEST_M = 0.15
_UNKNOWN_LIFT_LONGEST_M = 1.70
_FAILED_SHARE = 2 / 3
_TOO_FAR_SHARE = 1.5
_NEARLY_UP_SHARE = 0.85
_LEAST_ATTEMPT_SHARE = 0.12
_FASTEST_MEAN_M_S = 2.5
_AS_THE_OTHERS_SHARE = 0.15
_SAME_PLACE_SHARE = 0.15
_SURELY_SHARE = 2 / 3  # simulated walking about: a rise of a share less sure than that was none
_OFF_THE_HOOKS_M = 0.10  # common practice, no source

# A lifted bar turns by some degrees about the vertical and goes some centimetres sideways; it may roll by 30 degrees
# there and back: a tenth more is allowed. Somebody standing up from a chair with the sensor on the back exceeds all
# three.
_TURNED_RAD = 0.6
_ROLLED_RAD = 1.15
_STRAYED_M = 0.35


@dataclass(frozen=True, slots=True)
class Ascent:
    """One upward movement with its surroundings.

    Attributes:
        displacement_m, mean_velocity_m_s: of the movement.
        start_height_m: height of its start on the engine's running height.
        dropped_before_m: how far the bar came down in the seconds before.
        left_alone_before: it started from a bar nobody held.
        turned_rad: how far it turned about the vertical.
        rolled_rad: all turning on the way, there and back.
        strayed_m: how far it went sideways, beyond what the tilt's uncertainty explains.
        came_down: it ended by coming down, not by standing still.
        unsure_m: half the width of the displacement's 95 % interval.
    """

    displacement_m: float
    mean_velocity_m_s: float
    start_height_m: float
    dropped_before_m: float
    left_alone_before: bool
    turned_rad: float
    rolled_rad: float
    strayed_m: float
    came_down: bool
    unsure_m: float = 0.0


@dataclass
class Judge:
    """Knows one lift and the set so far."""

    lift: Lift | None
    given_range_m: float | None = None
    _ranges: list[float] = field(default_factory=list)
    _floor_m: float | None = None

    @property
    def usual_range_m(self) -> float | None:
        """Given at set start, else the median of the set's earlier reps, else unknown."""
        if self.given_range_m is not None:
            return self.given_range_m
        return median(self._ranges) if self._ranges else None

    def is_attempt(self, rise_m: float) -> bool:
        """Whether a rise is short of a rep but more than a jostle; never where no usual range is known."""
        usual = self.usual_range_m
        return usual is not None and max(_LEAST_ATTEMPT_SHARE * usual, 0.05) < rise_m < _FAILED_SHARE * usual

    def short_of_a_rep(self, rise_m: float, at_most_m: float) -> bool:
        """Whether a rise looks too short for a rep, and may be none the less as far as is known."""
        usual = self.usual_range_m
        return usual is not None and 0.2 * usual < rise_m < _FAILED_SHARE * usual <= at_most_m

    def may_be_rep(self, rise_m: float, give_m: float) -> bool:
        """Whether a rise that was measured too short or too long for a rep may be one, so far off as it may be."""
        usual = self.usual_range_m or self._shortest()
        return (
            rise_m > 0.5 * usual
            and rise_m + give_m > _FAILED_SHARE * usual
            and rise_m - give_m < self._longest()
        )

    def half_way_up(self, at_least_m: float, at_most_m: float, dropped_before_m: float) -> bool:
        """Whether a bar that has risen so far, having come down so far, is in the middle of a rep, beyond doubt.

        Not so one that is being taken off the rack: it rises by little, and did not come down before.
        """
        usual = self.usual_range_m or self._shortest()
        lifting = self._has_come_down(dropped_before_m, usual) or at_most_m > 0.05 + 0.3 * usual
        return lifting and at_least_m > 0.05 and at_most_m < _NEARLY_UP_SHARE * usual

    def may_be_half_way_up(self, risen_m: float, unsure_m: float, dropped_before_m: float) -> bool:
        """Whether a bar may well have left the bottom and, by what is known, has not come up yet.

        The first press from the shoulders begins upward without having come down, as taking it off the rack does;
        what has risen higher than hooks are deep may be pressed.
        """
        least = self.usual_range_m or self._shortest()
        lifting = self._has_come_down(dropped_before_m, least) or risen_m > _OFF_THE_HOOKS_M
        expected = _NEARLY_UP_SHARE * self._expected_range_m(dropped_before_m)
        return lifting and risen_m + unsure_m > 0.05 and risen_m < expected

    def has_come_up(self, at_least_m: float) -> bool:
        """Whether a bar that has risen so far at least is at the top, or nearly."""
        usual = self.usual_range_m
        return usual is not None and at_least_m > _NEARLY_UP_SHARE * usual

    def _expected_range_m(self, dropped_before_m: float) -> float:
        """How far a rep will go: as usual; else as far as it came down, or the middle of what the lift allows."""
        if self.usual_range_m is not None:
            return self.usual_range_m
        from_floor = self.lift is not None and self.lift.concentric_first
        if not from_floor and self._shortest() <= dropped_before_m <= self._longest():
            return dropped_before_m
        if self.lift is None:
            return self._shortest()
        return (self.lift.shortest_range_m + self.lift.longest_range_m) / 2

    def _has_come_down(self, dropped_before_m: float, usual_m: float) -> bool:
        """Whether a rep may begin here: where it begins on the floor, or by coming down, and it did."""
        from_floor = self.lift is None or self.lift.concentric_first
        return from_floor or dropped_before_m >= 0.4 * usual_m

    def verdict(self, ascent: Ascent) -> Verdict:
        """Is it a rep, a failed one, or nothing to count?"""
        if ascent.displacement_m > self._longest() or ascent.mean_velocity_m_s > _FASTEST_MEAN_M_S:
            return "nothing"
        if self._carried(ascent) or self._standing_up_from_catch(ascent):
            return "nothing"
        usual = self.usual_range_m
        if usual is not None and ascent.displacement_m < _FAILED_SHARE * usual:
            surely_m = ascent.displacement_m - ascent.unsure_m  # a jostle must not be told as an attempt
            attempt = self.is_attempt(surely_m)
            return "failed" if attempt and self._from_bottom(ascent, usual) else "nothing"
        if ascent.displacement_m < self._shortest():
            return "nothing"
        begins_here = self._from_bottom(ascent, usual or ascent.displacement_m)
        return "rep" if begins_here or self._surely_rose(ascent) else "nothing"

    def counted(self, ascent: Ascent) -> None:
        """Remember a rep."""
        self._ranges.append(ascent.displacement_m)
        self._floor_m = ascent.start_height_m

    def left_alone(self) -> None:
        """The bar lies on the floor or in the rack: the next movement starts afresh."""
        self._floor_m = None

    def new_set(self, given_range_m: float | None) -> None:
        """Forget the set."""
        self.given_range_m = given_range_m
        self._ranges.clear()
        self._floor_m = None

    def _shortest(self) -> float:
        return _UNKNOWN_LIFT_SHORTEST_M if self.lift is None else 0.8 * self.lift.shortest_range_m

    def _longest(self) -> float:
        longest = _UNKNOWN_LIFT_LONGEST_M if self.lift is None else 1.15 * self.lift.longest_range_m
        given = self.given_range_m
        return longest if given is None else min(longest, _TOO_FAR_SHARE * given)

    def _carried(self, ascent: Ascent) -> bool:
        """A lifted bar goes up and down in one place; what turns round, rolls over or travels is being carried.

        Over a slow rep a little tilt looks like half a metre sideways. A bar that came down as far as it went up, and
        as far as in this set's other reps, went nowhere.
        """
        rolls = 2.0 if self.lift is not None and self.lift.first_pull_only else 1.0
        measures = (
            ascent.turned_rad / _TURNED_RAD,
            ascent.rolled_rad / (rolls * _ROLLED_RAD),
            0.0 if self._as_the_others(ascent) else ascent.strayed_m / _STRAYED_M,
        )
        return sum(measure**2 for measure in measures) > 1.0

    def _as_the_others(self, ascent: Ascent) -> bool:
        if not self._ranges:
            return False
        usual = median(self._ranges)
        heights = (ascent.displacement_m, ascent.dropped_before_m)
        return all(abs(height - usual) < _AS_THE_OTHERS_SHARE * usual for height in heights)

    def _from_bottom(self, ascent: Ascent, usual: float) -> bool:
        from_floor = ascent.left_alone_before and (self.lift is None or self.lift.concentric_first)
        where_reps_begin = (
            self._floor_m is not None
            and abs(ascent.start_height_m - self._floor_m) < _SAME_PLACE_SHARE * usual
        )
        return from_floor or where_reps_begin or ascent.dropped_before_m >= 0.5 * usual

    def _surely_rose(self, ascent: Ascent) -> bool:
        """Whether it rose beyond doubt: what came from no bottom may be walking about, its height hardly known."""
        surely_m = ascent.displacement_m - ascent.unsure_m
        return surely_m > max(self._shortest(), _SURELY_SHARE * ascent.displacement_m)

    def _standing_up_from_catch(self, ascent: Ascent) -> bool:
        if self.lift is None or not self.lift.first_pull_only or self._floor_m is None:
            return False
        if ascent.left_alone_before:  # nobody held it: it lay on the floor, whatever shocks did to the height
            return False
        return ascent.start_height_m > self._floor_m + 0.35 * self.lift.shortest_range_m
