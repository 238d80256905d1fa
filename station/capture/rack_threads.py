"""A rack in its threads: what people touch goes to the worker, and nobody waits for it."""

from __future__ import annotations

from collections.abc import Callable

from station.capture.rack import Rack
from station.capture.rack_core import Show
from station.capture.rack_view import Band, Decision, RackView, ScreenSettings, SetField
from station.capture.threads import CaptureThreads, Source


class RackThreads(CaptureThreads[Rack, RackView]):
    """Runs a rack. Implements `RackActions` by passing them to the worker.

    Args:
        find_sensor: called in the radio's loop when a person asks for the sensor on this rack's bar.
    """

    def __init__(
        self,
        make_rack: Callable[[Show], Rack],
        source: Source,
        wake: Callable[[], None],
        find_sensor: Callable[[], None] = lambda: None,
    ) -> None:
        super().__init__(make_rack, source, wake)
        self._find_sensor = find_sensor

    def sign_in(self, staff: str, pin: str = "") -> None:
        """Decisions and corrections from now on carry this name."""
        self.touch(lambda rack: rack.sign_in(staff, pin))

    def set_pin(self, pin: str) -> None:
        """Whoever is signed in signs in with this PIN from now on."""
        self.touch(lambda rack: rack.set_pin(pin))

    def switch_athlete(self, athlete_id: str | None) -> None:
        """The bar belongs to this athlete from now on."""
        self.touch(lambda rack: rack.switch_athlete(athlete_id))

    def add_guest(self) -> None:
        """Somebody who is not in the squad lifts here from now on."""
        self.touch(lambda rack: rack.add_guest())

    def name_set(self, set_id: str, athlete_id: str) -> None:
        """Move a set to this athlete."""
        self.touch(lambda rack: rack.name_set(set_id, athlete_id))

    def set_lift(self, lift: str) -> None:
        """The lift from the next rep on."""
        self.touch(lambda rack: rack.set_lift(lift))

    def set_load(self, load_kg: float) -> None:
        """The load from the next rep on."""
        self.touch(lambda rack: rack.set_load(load_kg))

    def correct_from(self, set_id: str, field: SetField, value: float | str) -> None:
        """Correct load, bar or lift of this set and the later ones it concerns."""
        self.touch(lambda rack: rack.correct_from(set_id, field, value))

    def give_badge(self, code: str, athlete_id: str) -> None:
        """This badge is this athlete's from now on."""
        self.touch(lambda rack: rack.give_badge(code, athlete_id))

    def use_bar(self, bar_kg: float) -> None:
        """The bar from the next set on."""
        self.touch(lambda rack: rack.use_bar(bar_kg))

    def use_settings(self, settings: ScreenSettings) -> None:
        """Change how the screen is set, and keep it."""
        self.touch(lambda rack: rack.use_settings(settings))

    def end_set(self) -> None:
        """The set is over now."""
        self.touch(lambda rack: rack.end_set())

    def strike_rep(self, rep_id: str, struck: bool) -> None:
        """Strike a rep out, or put it back."""
        self.touch(lambda rack: rack.strike_rep(rep_id, struck))

    def mark_effort(self, set_id: str, full: bool) -> None:
        """Whether the set was lifted with full intent."""
        self.touch(lambda rack: rack.mark_effort(set_id, full))

    def decide(self, decision: Decision, load_kg: float | None = None) -> None:
        """The coach's decision about the suggestion."""
        self.touch(lambda rack: rack.decide(decision, load_kg))

    def use_goal(self, stop_loss: float | None, band_m_s: Band | None) -> None:
        """Where this athlete's sets of this lift stop, and the target band."""
        self.touch(lambda rack: rack.use_goal(stop_loss, band_m_s))

    def undo(self) -> None:
        """Take the last action of a person back."""
        self.touch(lambda rack: rack.undo())

    def find_sensor(self) -> None:
        """The sensor that moves when this rack's bar is lifted becomes its own."""
        self.in_radio_loop(self._find_sensor)
