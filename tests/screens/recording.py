"""A `RackActions` that writes down what it was asked."""

from __future__ import annotations

from typing import Any

from station.capture.rack_view import Band, Decision, ScreenSettings, SetField


class RecordingActions:
    def __init__(self) -> None:
        self.calls: list[tuple[Any, ...]] = []

    def sign_in(self, staff: str, pin: str = "") -> None:
        self.calls.append(("sign_in", staff, pin) if pin else ("sign_in", staff))

    def set_pin(self, pin: str) -> None:
        self.calls.append(("set_pin", pin))

    def correct_from(self, set_id: str, field: SetField, value: float | str) -> None:
        self.calls.append(("correct_from", set_id, field, value))

    def give_badge(self, code: str, athlete_id: str) -> None:
        self.calls.append(("give_badge", code, athlete_id))

    def use_bar(self, bar_kg: float) -> None:
        self.calls.append(("use_bar", bar_kg))

    def use_settings(self, settings: ScreenSettings) -> None:
        self.calls.append(("use_settings", settings))

    def switch_athlete(self, athlete_id: str | None) -> None:
        self.calls.append(("switch_athlete", athlete_id))

    def add_guest(self) -> None:
        self.calls.append(("add_guest",))

    def find_sensor(self) -> None:
        self.calls.append(("find_sensor",))

    def name_set(self, set_id: str, athlete_id: str) -> None:
        self.calls.append(("name_set", set_id, athlete_id))

    def set_lift(self, lift: str) -> None:
        self.calls.append(("set_lift", lift))

    def set_load(self, load_kg: float) -> None:
        self.calls.append(("set_load", round(load_kg, 6)))

    def end_set(self) -> None:
        self.calls.append(("end_set",))

    def strike_rep(self, rep_id: str, struck: bool) -> None:
        self.calls.append(("strike_rep", rep_id, struck))

    def mark_effort(self, set_id: str, full: bool) -> None:
        self.calls.append(("mark_effort", set_id, full))

    def decide(self, decision: Decision, load_kg: float | None = None) -> None:
        self.calls.append(("decide", decision, load_kg))

    def undo(self) -> None:
        self.calls.append(("undo",))

    def use_goal(self, stop_loss: float | None, band_m_s: Band | None) -> None:
        self.calls.append(("use_goal", stop_loss, band_m_s))
