"""What contradicts the running height and velocity, and who is to blame: a rest, a top out of place, a shock.

A shock's integral is only as good as the samples in it. Where a rest or a closure says otherwise beyond doubt, and
there was a shock of late, the shock was measured wrongly; only without one did the bar turn somewhere else.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import hypot
from typing import NamedTuple

from station.motion.columns import Column
from station.motion.history import RecentRows
from station.motion.live import BOTTOM, STATES, TOP, VerticalFilter, forget_turns
from station.motion.watches import ShockWatch, TurnWatch

_TRAVEL_SD_M = 0.01
_LEAST_SINCE_SHOCK_S = 0.1
_MOST_SPOILT_M_S = 2.0
_STANDS_M_S = 0.05  # one that may be grinding is said to rest within more


class ComesBack(NamedTuple):
    """How well the bar comes back to the height it was at before, m; 0: it need not.

    Attributes:
        top_m, bottom_m: where it turns after a long movement.
        floor_m: where it lies with nobody holding it.
    """

    top_m: float = 0.0
    bottom_m: float = 0.0
    floor_m: float = 0.0


@dataclass
class Closure:
    """Closes heights at tops, bottoms and the floor, and mends what shocks have spoilt.

    Attributes:
        frames: the past a decision looks back on; marks are left in it.
        vertical: the running height and velocity.
        comes_back: how well this movement comes back to its heights.
        frame_s: length of a frame.
        shocks: the shocks of late.
    """

    frames: RecentRows
    vertical: VerticalFilter
    comes_back: ComesBack
    frame_s: float
    shocks: ShockWatch = field(default_factory=ShockWatch)
    _turns: TurnWatch = field(default_factory=TurnWatch)

    def rests(self, sigma_m_s: float) -> None:
        """The bar rests, within sigma: a velocity that differs from that beyond doubt was spoilt by a shock."""
        if sigma_m_s < _STANDS_M_S:
            self._turns.begins_anew()
        off = self.vertical.velocity**2
        if off >= 9 * (self.vertical.velocity_variance + sigma_m_s**2):
            self._doubt_shock(off)

    def back(self, since: int, *, lies: bool, may_grind: bool) -> tuple[float, float]:
        """How well the bar is back at the movement's top or bottom with this frame, m; 0: it is at neither.

        Args:
            since: first frame of the stretch that can be looked at as a whole.
            lies: the bar rests and nobody holds it.
            may_grind: it may be half-way up, so that a moment without rising is no turn.
        """
        if not may_grind:
            self._turns.begins_anew()
        if self.comes_back.floor_m:
            return 0.0, self._on_floor() if lies else 0.0
        return self._turn(since) if self.comes_back.top_m else (0.0, 0.0)

    def _on_floor(self) -> float:
        """The floor is where it was: what the biases have made of the height since, when the bar turned, shows."""
        floor_m = self.comes_back.floor_m
        _, predicted, _ = self.vertical.off_turn(BOTTOM, floor_m)
        return self.vertical.turned(BOTTOM, floor_m) if predicted > floor_m**2 else 0.0

    def _turn(self, since: int) -> tuple[float, float]:
        """The same where it turns, or has turned a while ago."""
        now = len(self.frames)
        turn = self._turns.follow(now, self.vertical.velocity, self.vertical.height)
        if turn is None:
            return 0.0, 0.0
        which, frame = turn
        sigma = self.comes_back.top_m if which == TOP else self.comes_back.bottom_m
        above = float(self._turns.from_m - self.vertical.height) if frame < now else 0.0
        if which == BOTTOM:  # the floor is where it was; a bar that turns below its top may have failed
            self._doubt_shock_by_height(which, sigma, above)
        if frame < now:  # the place a movement began at: known now, for whoever looks back
            used = self.vertical.turned(which, hypot(sigma, _TRAVEL_SD_M), above)
            column = Column.TOP_SIGMA if which == TOP else Column.BOTTOM_SIGMA
            self.frames.view(max(frame, since), frame + 1)[:, column] = max(used, sigma)
            return 0.0, 0.0
        sigma = self.vertical.turned(which, sigma)
        self._turns.began_at(self.vertical.height)
        return (sigma, 0.0) if which == TOP else (0.0, sigma)

    def forget(self, since: int) -> None:
        """From now on tops and bottoms may be elsewhere: whoever looks back holds nothing against the old ones."""
        rows = self.frames.view(since, len(self.frames) + 1)  # with the row that is being written
        rows[:, [Column.TOP_SIGMA, Column.BOTTOM_SIGMA]] = 0.0
        covariance = rows[:, Column.COVARIANCE :].reshape(len(rows), STATES, STATES)
        forget_turns(covariance)
        rows[:, Column.COVARIANCE :] = covariance.reshape(len(rows), -1)

    @property
    def _since_shock_s(self) -> float:
        """Time since the strongest shock of late, s; 0 where there was none."""
        frame = self.shocks.strongest
        return 0.0 if frame is None else (len(self.frames) - frame) * self.frame_s

    def _doubt_shock_by_height(self, which: int, sigma: float, above_m: float) -> None:
        """A bottom out of place after a blow: the blow was measured wrongly."""
        off, _, doubtful = self.vertical.off_turn(which, sigma, above_m)
        blow, since_s = self.shocks.strongest, self._since_shock_s
        if not doubtful or blow is None or since_s <= _LEAST_SINCE_SHOCK_S:
            return
        if self.frames.view(blow, blow + 1)[0, Column.LOST_S] == 0:  # a hole is no blow
            self._doubt_shock((off / since_s) ** 2)

    def _doubt_shock(self, variance: float) -> None:
        """The strongest shock of late has spoilt the velocity by this variance, m2/s2."""
        variance = min(variance, _MOST_SPOILT_M_S**2)
        frame = self.shocks.strongest
        if frame is not None:
            self.vertical.doubt_velocity(variance, self._since_shock_s)
            self.frames.view(frame, frame + 1)[:, Column.VERTICAL_NOISE] += variance
