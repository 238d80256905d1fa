"""How a rack stands, as the room is told: out of the picture the rack screen has, and what waits for a decision.

Made in the worker's own thread; between sets alone anything is computed for it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from typing import Protocol

from station.capture.battery import BatteryWatch
from station.capture.rack_view import RackView, RepStatus
from station.capture.session import Session
from station.squad.room import RackReport, SpareSensor, ToldSensor, ToldTrouble, WaitingSuggestion
from station.store.known_sensor import KnownSensor


class TellsTheRoom(Protocol):
    """A rack, as far as the room asks it."""

    session: Session
    view: RackView | None

    @property
    def sensor_address(self) -> str | None:
        """Of the sensor that streams here, or streamed last."""

    @property
    def still_check(self) -> bool | None:
        """Whether the sensor at rest read gravity; None: it has not lain still yet."""


@dataclass(slots=True)
class RackReporter:
    """Makes reports of one rack.

    Attributes:
        batteries: how fast this rack's sensor empties.
    """

    batteries: BatteryWatch = field(default_factory=BatteryWatch)
    _waiting: tuple[WaitingSuggestion, ...] = ()
    _seen: RackView | None = None

    def report(self, rack: TellsTheRoom, sensors: list[KnownSensor], now: datetime) -> RackReport | None:
        """How the rack stands now; None before its first picture.

        Args:
            sensors: all that this machine's book knows.
            now: with zone.
        """
        view = rack.view
        if view is None:
            return None
        open_set = view.set is not None and view.set.is_open
        if view is not self._seen and not open_set:
            self._waiting = waiting_suggestions(
                rack.session, view.athlete.athlete_id if view.athlete else None
            )
        self._seen = view
        return _report(view, self._waiting, self._sensor(rack, view, sensors, now), _spares(sensors))

    def _sensor(
        self, rack: TellsTheRoom, view: RackView, sensors: list[KnownSensor], now: datetime
    ) -> ToldSensor:
        line, known = view.sensor, _known(rack, view, sensors)
        percent = line.battery_percent
        if percent is None and known is not None:
            percent = known.battery_percent
        if line.streaming and line.battery_percent is not None:
            self.batteries.read(known.address if known else line.name, line.battery_percent, now)
        hours, seen = self.batteries.hours_left(percent)
        day = known.calibrated_at.astimezone().date().isoformat() if known and known.calibrated_at else ""
        name = line.name if line.streaming or known is None else known.name or line.name
        return ToldSensor(name, line.link, line.streaming, percent, hours, seen, day, rack.still_check)


def waiting_suggestions(session: Session, first: str | None) -> tuple[WaitingSuggestion, ...]:
    """Suggestions of this session that nobody has decided about; the athlete's `first` at the head."""
    found = []
    for athlete_id, lift in dict.fromkeys((s.athlete_id, s.lift) for s in session.sets.all):
        if athlete_id is None or session.decisions.of(athlete_id, lift) is not None:
            continue
        warmups = session.sets.warmups_of(athlete_id, lift)
        made = session.of(athlete_id, lift).suggestion if warmups else None
        if made is not None and made.load_kg is not None:
            one = WaitingSuggestion(
                athlete_id, lift, warmups[-1].set_id, made.load_kg, made.planned_kg, made.sentence
            )
            found.append(one)
    return tuple(sorted(found, key=lambda one: one.athlete_id != first))


def _report(
    view: RackView,
    waiting: tuple[WaitingSuggestion, ...],
    sensor: ToldSensor,
    spares: tuple[SpareSensor, ...],
) -> RackReport:
    set_, assessed = view.set, view.assessed
    counted = [rep for rep in set_.reps if rep.status is not RepStatus.STRUCK] if set_ is not None else []
    last = counted[-1] if counted else None
    return RackReport(
        rack=view.rack_name,
        athlete_id=view.athlete.athlete_id if view.athlete else None,
        name_confirmed=view.name_confirmed,
        lift=view.lift,
        load_kg=view.load_kg,
        set_kind=set_.kind if set_ else "",
        set_number=set_.number if set_ else 0,
        set_open=set_ is not None and set_.is_open,
        reps=len([rep for rep in counted if rep.status is not RepStatus.FAILED]),
        last_speed_m_s=last.mean_velocity_m_s if last else None,
        last_status=last.status.value if last else "",
        verdict=assessed.verdict.value if assessed else "",
        difference_m_s=assessed.mean_velocity_m_s - assessed.usual.expected_m_s if assessed else 0.0,
        warmup_kg=view.warmup_load_kg,
        decision=view.decision.value if view.decision else "",
        decided_kg=view.decided_kg,
        waiting=waiting,
        troubles=tuple(ToldTrouble(line.words, line.advice, line.serious) for line in view.troubles),
        sensor=sensor,
        spares=spares,
    )


def _known(rack: TellsTheRoom, view: RackView, sensors: list[KnownSensor]) -> KnownSensor | None:
    """What the book knows of the sensor that streams here, else of the one that belongs to this rack."""
    at = rack.sensor_address if view.sensor.streaming else None
    by_address = next((one for one in sensors if one.address == at), None)
    return by_address or next((one for one in sensors if one.rack == view.rack_name), None)


def _spares(sensors: list[KnownSensor]) -> tuple[SpareSensor, ...]:
    return tuple(
        SpareSensor(
            one.name or one.address,
            one.battery_percent,
            one.battery_at.isoformat() if one.battery_at is not None else "",
        )
        for one in sensors
        if one.rack is None
    )
