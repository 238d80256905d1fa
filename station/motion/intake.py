"""What comes in is looked at first: bad samples are taken out, holes and clipping noted, troubles said.

The judgement of every sample depends on the samples before it alone, never on how they were packed.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import inf

import numpy as np
from numpy.typing import NDArray

from drivers.samples import FloatArray, TimedBlock
from station.motion.events import Clipped, Gap, MotionEvent, Trouble, TroubleKind
from station.motion.sensor_watches import RateWatch, StuckWatch

SILENCE_S = 2.0
_LONG_SILENCE_S = 30.0
_LATEST_S = 1e8  # three years: beyond it a time is no time
_LARGEST_M_S2, _FASTEST_RAD_S = 1e5, 1e3
_CLIP_PAUSE_S = 0.1
_REPEAT_AFTER_S = 10.0

_ADVICE: dict[str, str] = {
    "numbers": "The sensor sent values that are no numbers. They are left out; restart the sensor if it goes on.",
    "backwards": "Sample times ran backwards or stood still. Those samples are left out; check the connection.",
    "zero": "The sensor sends nothing but zeros. Restart it.",
    "stuck": "The sensor sends the same value again and again. Restart or replace it.",
    "saturated": "The sensor is at the limit of its range all the time. Check its range setting or replace it.",
    "gyro": "The gyro stopped. Bars are measured without it, less surely; restart the sensor.",
    "rate": "The sensor's sample rate changed. Numbers around this moment are less sure.",
    "silence": "No samples from the sensor. Check that it is on, charged and near.",
}
_KIND: dict[str, TroubleKind] = {"rate": "rate_jump", "silence": "silence"}


@dataclass(frozen=True, eq=False, slots=True)
class CleanSamples:
    """Samples fit for measuring: finite, increasing in time.

    `gyr_rad_s` is zero where `with_gyro` is false; `clipped`, shape (n, 3), is None where nothing is.
    """

    time_s: FloatArray
    acc_m_s2: FloatArray
    gyr_rad_s: FloatArray
    with_gyro: bool
    clipped: NDArray[np.bool_] | None


@dataclass(frozen=True, slots=True)
class Decided:
    """An event with the time of the sample that brought it about: what events are put in order by."""

    time_s: float
    event: MotionEvent


@dataclass
class Intake:
    """Sorts what comes in.

    `range_m_s2` is the sensor's accelerometer range, if known, for clipping. `may_fly`: no force at all may be true.
    """

    range_m_s2: float | None = None
    may_fly: bool = False
    events: list[Decided] = field(default_factory=list)
    last_time_s: float | None = None
    _last_seq: int = 0
    _said: dict[str, float] = field(default_factory=dict)
    _clip: tuple[float, float, int] | None = None
    _rate: RateWatch = field(default_factory=RateWatch)
    _stuck: StuckWatch = field(default_factory=StuckWatch)
    _silence_said: bool = False
    _heard_s: float = float("-inf")  # when something came last, were it no number
    _had_gyro: bool | None = None

    def take(self, block: TimedBlock) -> CleanSamples:
        """The usable samples of a block; what was found on the way is left in `events`."""
        time, seq, acc, gyr = block.time_s, block.seq, block.acc_m_s2, block.gyr_rad_s
        if not self._all_usable(block):
            keep = self._usable(block)
            self._heard_s = max([self._heard_s, *time[_sane(time[:, None], _LATEST_S)].tolist()])
            time, seq, acc, gyr = time[keep], seq[keep], acc[keep], None if gyr is None else gyr[keep]
        clipped = None
        if len(time):
            self._note_gyro(gyr is not None, float(time[0]))
            if self.range_m_s2 is not None:
                clipped = self._note_clipping(time, acc, 0.995 * self.range_m_s2)
            self._note_gaps(time, seq)
            self._note_silence(time, seq, block.time_s)
            for at in self._rate.jumps(time, seq):
                self.say("rate", at)
            self.last_time_s, self._last_seq = float(time[-1]), int(seq[-1])
            self._silence_said = False
        return CleanSamples(time, acc, np.zeros_like(acc) if gyr is None else gyr, gyr is not None, clipped)

    def _all_usable(self, block: TimedBlock) -> bool:
        """Whether nothing has to be left out, as is usual: a look at the block as a whole, without blame."""
        time, acc, gyr = block.time_s, block.acc_m_s2, block.gyr_rad_s
        last = -_LATEST_S if self.last_time_s is None else self.last_time_s
        if not (time[0] > last and time[-1] < _LATEST_S and (time[1:] > time[:-1]).all()):
            return False
        if not (self.may_fly or acc[:, 0].all()) and not acc.any(axis=1).all():
            return False
        # No value is larger than the root of the sum of squares, which no "not a number" leaves a number.
        fits = np.vdot(acc, acc) < _LARGEST_M_S2**2 and (gyr is None or np.vdot(gyr, gyr) < _FASTEST_RAD_S**2)
        return bool(fits)

    def _usable(self, block: TimedBlock) -> NDArray[np.bool_]:
        """The samples that can be used, and what is wrong with the others said."""
        time, acc, gyr = block.time_s, block.acc_m_s2, block.gyr_rad_s
        finite: NDArray[np.bool_] = _sane(time[:, None], _LATEST_S) & _sane(acc, _LARGEST_M_S2)
        if gyr is not None:
            finite = finite & _sane(gyr, _FASTEST_RAD_S)
        nothing = finite & ~acc.any(axis=1) & (not self.may_fly)
        finite &= ~nothing
        before = -np.inf if self.last_time_s is None else self.last_time_s
        reached = np.maximum.accumulate(np.concatenate([[before], np.where(finite, time, -np.inf)]))[:-1]
        late = finite & (time <= reached)
        self._say_where("numbers", ~finite & ~nothing, reached)
        self._say_where("zero", nothing, reached)
        self._say_where("backwards", late, reached)
        return finite & ~late

    def watch_frame(self, end_s: float, duration_s: float, low: list[float], high: list[float]) -> None:
        """Look at one frame's smallest and largest value of each axis for a sensor that hangs."""
        what = self._stuck.judge(duration_s, low, high, self.range_m_s2)
        if what is not None:
            self.say(what, end_s)

    def pass_time(self, now_s: float) -> bool:
        """Time passes without samples; true while the sensor is silent."""
        last = self.last_time_s
        if last is None or not np.isfinite(now_s) or now_s - last < SILENCE_S:
            return False
        if not self._silence_said and now_s - self._heard_s >= SILENCE_S:
            self._silence_said = True
            self.events.append(
                Decided(last + SILENCE_S, Trouble("silence", last + SILENCE_S, _ADVICE["silence"]))
            )
        return True

    def close(self) -> None:
        """No more samples: say what is still open."""
        self._end_clipping(self.last_time_s or 0.0)

    def drain(self, until_s: float = inf) -> list[Decided]:
        """What was found up to a time since the last call; what comes later is kept for the next."""
        found = [one for one in self.events if one.time_s <= until_s]
        self.events = [one for one in self.events if one.time_s > until_s]
        return found

    def say(self, what: str, time_s: float) -> None:
        """Report a trouble, at most once in ten seconds of its kind."""
        if time_s - self._said.get(what, -np.inf) >= _REPEAT_AFTER_S:
            self._said[what] = time_s
            kind = _KIND.get(what, "bad_samples")
            self.events.append(Decided(time_s, Trouble(kind, time_s, _ADVICE[what])))

    def _say_where(self, what: str, bad: NDArray[np.bool_], reached: FloatArray) -> None:
        for i in np.flatnonzero(bad):
            self.say(what, float(reached[i]) if np.isfinite(reached[i]) else 0.0)

    def _note_gyro(self, has_gyro: bool, time_s: float) -> None:
        if self._had_gyro and not has_gyro:
            self.say("gyro", time_s)
        self._had_gyro = has_gyro

    def _note_clipping(
        self, time: FloatArray, acc: FloatArray, limit_m_s2: float
    ) -> NDArray[np.bool_] | None:
        size = np.abs(acc)
        if self._clip is None and size.max() < limit_m_s2:
            return None
        clipped: NDArray[np.bool_] = size >= limit_m_s2
        for t in time[_any_axis(clipped)].tolist():
            if self._clip is not None and t - self._clip[1] > _CLIP_PAUSE_S:
                self._end_clipping(_first_later(time, self._clip[1]))
            start, _, count = self._clip or (t, t, 0)
            self._clip = (start, t, count + 1)
        if self._clip is not None and time[-1] - self._clip[1] > _CLIP_PAUSE_S:
            self._end_clipping(_first_later(time, self._clip[1]))
        return clipped

    def _end_clipping(self, decided_s: float) -> None:
        if self._clip is not None:
            self.events.append(Decided(decided_s, Clipped(*self._clip)))
        self._clip = None

    def _note_gaps(self, time: FloatArray, seq: NDArray[np.int64]) -> None:
        if self.last_time_s is not None and seq[0] - self._last_seq > 1:
            self._say_gap(self.last_time_s, float(time[0]), int(seq[0]) - self._last_seq - 1)
        lost = seq[1:] - seq[:-1] > 1
        if lost.any():
            for i in np.flatnonzero(lost).tolist():
                self._say_gap(float(time[i]), float(time[i + 1]), int(seq[i + 1] - seq[i]) - 1)

    def _note_silence(self, time: FloatArray, seq: NDArray[np.int64], heard_s: FloatArray) -> None:
        """Say what nobody was there to say while nothing came, as `pass_time` does.

        A hole that the counter tells of is a gap, and no trouble of its own before it ends a set.
        """
        first = self.last_time_s is None
        last, last_seq = (float(time[0]), int(seq[0]) - 1) if first else (self.last_time_s, self._last_seq)
        if last is None or self._silence_said or time[-1] - last < SILENCE_S:
            return
        holes, counted = np.diff(time, prepend=last), np.diff(seq, prepend=last_seq) > 1
        for i in np.flatnonzero(holes >= np.where(counted, _LONG_SILENCE_S, SILENCE_S)).tolist():
            before = last if i == 0 else float(time[i - 1])
            if not (
                (heard_s > before) & (heard_s < time[i])
            ).any():  # what came but was no number is said already
                said = Trouble("silence", before + SILENCE_S, _ADVICE["silence"])
                self.events.append(Decided(float(time[i]), said))

    def _say_gap(self, start_s: float, end_s: float, lost_samples: int) -> None:
        self.events.append(Decided(end_s, Gap(start_s, end_s, lost_samples)))


def _sane(values: FloatArray, limit: float) -> NDArray[np.bool_]:
    """Rows whose every value is a number of believable size, shape (n,)."""
    with np.errstate(invalid="ignore"):
        return ~_any_axis(~(np.abs(values) < limit))


def _first_later(time: FloatArray, clipped_s: float) -> float:
    """Time of the first sample by which clipping is over; subtracted as whoever asks does, to the last bit."""
    return float(time[np.argmax(time - clipped_s > _CLIP_PAUSE_S)])


def _any_axis(flags: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Rows with any flag set, shape (n,)."""
    any_axis: NDArray[np.bool_] = flags[:, 0]
    for axis in range(1, flags.shape[1]):
        any_axis = any_axis | flags[:, axis]
    return any_axis
