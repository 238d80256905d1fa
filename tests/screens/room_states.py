"""The room in the states that its tests and pictures look at: invented racks and athletes."""

from __future__ import annotations

from datetime import UTC, date, datetime

from station.capture.room_desk import RoomDesk, RoomLine, RoomView
from station.squad.room import RackReport, SpareSensor, ToldSensor, ToldTrouble, WaitingSuggestion

TODAY = date(2026, 10, 14)
NOW = datetime(2026, 10, 14, 8, 12, tzinfo=UTC)
LONGEST = "Ottokar Freiherr von Quellmann-Rosenborn"
SPARES = (
    SpareSensor("Bar sensor 9", 98, "2026-10-14T04:35:00+00:00"),
    SpareSensor("Bar sensor 11", 41, "2026-10-13T10:02:00+00:00"),
    SpareSensor("Bar sensor 12"),
)
GOOD = ToldSensor("Bar sensor 1", "streaming", True, 84, 7.0, False, "2026-09-20", True)
EASE = "Ease to 95 kg: 0.06 m/s slower than usual at 60 kg, quite sure."


def waiting(athlete_id: str, load_kg: float = 95.0, sentence: str = EASE) -> WaitingSuggestion:
    return WaitingSuggestion(athlete_id, "back squat", f"set-{athlete_id}", load_kg, 100.0, sentence)


def line(report: RackReport, name: str = "", names: tuple[str, ...] = (), age_s: float = 0.4) -> RoomLine:
    return RoomLine(report, name, names, age_s, NOW)


def lifting(rack: str, athlete_id: str = "a", **more: object) -> RackReport:
    plain: dict[str, object] = {
        "rack": rack,
        "athlete_id": athlete_id,
        "lift": "back squat",
        "load_kg": 60.0,
        "set_kind": "warm-up",
        "set_number": 1,
        "set_open": True,
        "reps": 3,
        "last_speed_m_s": 0.74,
        "last_status": "measured",
        "warmup_kg": 60.0,
        "sensor": GOOD,
        "spares": SPARES,
    }
    return RackReport(**(plain | more))  # type: ignore[arg-type]


LINES = (
    line(lifting("rack 1"), "Aino Amsel"),
    line(
        lifting(
            "rack 2",
            "long",
            set_open=False,
            verdict="slower",
            difference_m_s=-0.064,
            waiting=(waiting("long"), waiting("b")),
        ),
        LONGEST,
        (LONGEST, "Bela Birkholz"),
    ),
    line(
        lifting(
            "rack 3",
            verdict="faster",
            difference_m_s=0.05,
            decision="use",
            decided_kg=102.5,
            load_kg=102.5,
            set_kind="work",
            set_number=2,
            last_speed_m_s=None,
            last_status="not measured",
        ),
        "Cosima Callsen",
    ),
    line(
        lifting(
            "rack 4", name_confirmed=False, verdict="as usual", waiting=(waiting("d", 100.0, "Keep 100 kg."),)
        ),
        "Dorrit Dahlke",
        ("Dorrit Dahlke",),
    ),
    line(
        RackReport(
            "rack 5",
            lift="hexagonal-bar deadlift",
            load_kg=80.0,
            sensor=ToldSensor(
                "Bar sensor 5", "looking for this rack's sensor", False, 12, 1.0, True, "2026-02-01"
            ),
            troubles=(
                ToldTrouble(
                    "The connection to Bar sensor 5 was lost. Is it out of range, or its battery empty?",
                    "The station keeps trying; reps meanwhile are not measured.",
                    True,
                ),
                ToldTrouble("The sensor's battery is at 12 %.", "Charge it, or take another sensor."),
            ),
        )
    ),
    line(
        lifting("rack 6", sensor=ToldSensor("Bar sensor 6", "streaming", True, None, None, False, "", False))
    ),
    line(lifting("rack 7", verdict="too little history"), "Eskil Ehlers", (), 2400.0),
    line(RackReport("rack 8", closed=True), age_s=7200.0),
)
ROOM = RoomView(LINES, SPARES, begun=True)
EMPTY = RoomView((), (), begun=False)


class ToldDesk(RoomDesk):
    """A desk that is told how the racks stand."""

    shown = ROOM

    def view(self) -> RoomView:
        """What it was told."""
        return self.shown
