"""What a touch or key means: the one place where the rack screen calls `RackActions`."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QObject, QTimer

from station.capture.rack_view import Band, Decision, Figure, RackActions, RackView
from station.screens import drawer_pages, screen_pages, set_pages
from station.screens.drawer import Choice

if TYPE_CHECKING:
    from station.screens.rack_window import RackWindow

ASKED_FOR_MS = 1500
FIGURES: dict[str, Figure] = {"mean": "mean", "propulsive": "propulsive", "peak": "peak"}


def _band(value: str) -> Band | None:
    low, _, high = value.partition("|")
    return (float(low), float(high)) if low else None


class RackTouches(QObject):
    """Connects the window's controls to the actions; child of the window, dies with it.

    Args:
        window: whose controls are connected.
        actions: carries them out.
    """

    def __init__(self, window: RackWindow, actions: RackActions) -> None:
        super().__init__(window)
        self._window = window
        self._actions = actions
        self._open_now = self._set_to_name = ""
        self._asked_kg: float | None = (
            None  # quick taps go on from the last asked load, not from a view on its way
        )
        self._asked_timer = QTimer(self, singleShot=True, interval=ASKED_FOR_MS)
        self._asked_timer.timeout.connect(self._forget_asked)
        row = window.controls
        row.minus.clicked.connect(self._less)
        row.plus.clicked.connect(self._more_load)
        row.bar.clicked.connect(self._open_bar)
        row.this_set.clicked.connect(self._open_set)
        row.effort.clicked.connect(self._effort)
        row.undo.clicked.connect(actions.undo)
        window.tiles.more.clicked.connect(self._open_more)
        window.tiles.anybody.clicked.connect(self._open_everybody)
        window.everybody.chosen.connect(self._anybody)
        row.end.clicked.connect(actions.end_set)
        row.next.clicked.connect(self._next)
        row.use.clicked.connect(self._use)
        row.change.clicked.connect(self._open_change)
        row.keep.clicked.connect(self._keep)
        window.tiles.touched.connect(self.athlete)
        large = window.large_row
        large.who.clicked.connect(self._open_who)
        large.bar.clicked.connect(self._open_bar)
        large.set.clicked.connect(self._open_set_or_decide)
        large.more.clicked.connect(self._open_more)
        window.drawer.chosen.connect(self._chosen)

    def athlete(self, athlete_id: str) -> None:
        """A name was touched: it names a nameless set, else the bar is this athlete's from now on."""
        view = self._window.view
        if view is None:
            return
        if view.athlete is None and view.set is not None:
            self._actions.name_set(view.set.set_id, athlete_id)
        else:
            self._actions.switch_athlete(athlete_id)

    def _step(self, steps: int) -> None:
        view = self._window.view
        if view is None:
            return
        base = self._asked_kg if self._asked_kg is not None else view.load_kg
        self._asked_kg = drawer_pages.stepped_load_kg(view, base, steps)
        self._asked_timer.start()
        self._actions.set_load(self._asked_kg)

    def _less(self) -> None:
        self._step(-1)

    def _more_load(self) -> None:
        self._step(1)

    def _forget_asked(self) -> None:
        self._asked_kg = None

    def _effort(self) -> None:
        view = self._window.view
        if view is not None and view.set is not None:
            self._actions.mark_effort(view.set.set_id, view.set.not_full_effort)

    def _next(self) -> None:
        view = self._window.view
        if view is not None and view.next_athlete_id is not None:
            self._actions.switch_athlete(view.next_athlete_id)

    def _use(self) -> None:
        self._actions.decide(Decision.USE)

    def _keep(self) -> None:
        self._actions.decide(Decision.KEEP_PLAN)

    def _page(self, page: str) -> tuple[str, list[Choice]]:
        """Title and choices of a page as they are now."""
        view = self._window.view
        assert view is not None
        theme = self._window.look.palette.name
        name, _, about = page.partition("/")
        pages: dict[str, tuple[str, Callable[[], list[Choice]]]] = {
            "bar": ("Load and lift", lambda: drawer_pages.bar_page(view)),
            "bars": ("Which bar", lambda: drawer_pages.bars_page(view)),
            "lift": ("Lift", lambda: drawer_pages.lift_page(view)),
            "set": ("This set", lambda: self._set_page(view)),
            "whose": ("Whose set?", lambda: set_pages.whose_page(view)),
            "change": ("Other load", lambda: drawer_pages.change_page(view)),
            "more": ("More", lambda: drawer_pages.more_page(view)),
            "staff": ("Sign in", lambda: drawer_pages.staff_page(view)),
            "several": ("From which set on?", lambda: set_pages.several_page(view)),
            "fix": ("What was it?", lambda: set_pages.fix_page(view, about)),
            "fix-lift": ("Which lift was it?", lambda: set_pages.fix_lift_page(view, about)),
            "screen": ("Screen", lambda: screen_pages.screen_page(view, theme)),
            "limits": ("A suggestion goes", lambda: screen_pages.limits_page(view)),
            "scale": ("Size", lambda: screen_pages.scale_page(view)),
            "figure": ("Big number", lambda: screen_pages.figure_page(view)),
            "stop": ("Stop at", lambda: drawer_pages.stop_page(view)),
            "target": ("Target, m/s", lambda: drawer_pages.target_page(view)),
            "earlier": ("Whose set?", lambda: set_pages.earlier_page(view, about)),
            "decide": ("Which load?", lambda: drawer_pages.decide_page(view)),
            "who": ("Who lifts?", lambda: drawer_pages.who_page(view)),
            "badge": ("Whose badge?", lambda: drawer_pages.badge_page(view, about)),
        }
        title, choices = pages[name]
        return title, choices()

    def _set_page(self, view: RackView) -> list[Choice]:
        large = self._window.large_print
        return [*(set_pages.set_actions(view) if large else []), *set_pages.set_page(view)]

    def open(self, page: str) -> None:
        """Open a page of the drawer."""
        if self._window.view is not None:
            self._open_now = page
            self._window.drawer.open_page(*self._page(page))

    def refresh(self) -> None:
        """An open page shows what holds now."""
        if self._open_now and self._window.drawer.isVisible():
            self._window.drawer.refill(self._page(self._open_now)[1])

    def _open_bar(self) -> None:
        self.open("bar")

    def _open_set(self) -> None:
        self.open("set")

    def _open_who(self) -> None:
        self.open("who")

    def _open_set_or_decide(self) -> None:
        self.open("decide" if self._window.large_row.pending else "set")

    def _open_everybody(self) -> None:
        self.open_everybody()

    def _open_more(self) -> None:
        self.open("more")

    def _open_change(self) -> None:
        self.open("change")

    def _chosen(self, key: str) -> None:
        self._open_now = ""
        kind, _, value = key.partition(":")
        match kind:
            case "page":
                self.open(value)
            case "load":
                self._actions.set_load(float(value))
            case "lift":
                self._actions.set_lift(value)
            case "bar":
                self._actions.use_bar(float(value))
            case "strike" | "back":
                self._actions.strike_rep(value, kind == "strike")
            case "change":
                self._actions.decide(Decision.CHANGE, float(value))
            case "staff":
                self._sign_in(value)
            case "athlete":
                self.athlete(value)
            case "whose":
                self._name(value)
            case "move":
                self._actions.name_set(*value.split("|"))
            case "anybody":
                self.open_everybody(value)
            case "stop":
                self._goal(stop=float(value) if value else None)
            case "target":
                self._goal(band=_band(value))
            case "fix":
                self._fix(*value.split("|"))
            case "badge":
                self._actions.give_badge(*value.split("|"))
            case "scale" | "sound" | "unit" | "figure" | "down" | "up":
                self._set(kind, value)
            case _:
                self._screen(kind)

    def _fix(self, set_id: str, field: str, value: str) -> None:
        if field == "lift":
            self._actions.correct_from(set_id, "lift", value)
        elif field == "bar_kg":
            self._actions.correct_from(set_id, "bar_kg", float(value))
        else:
            self._actions.correct_from(set_id, "load_kg", float(value))

    def _goal(self, **asked: float | Band | None) -> None:
        """Another stop or another target; the other one stays."""
        view = self._window.view
        if view is not None:
            now: dict[str, Any] = {"stop": view.stop_loss, "band": view.target_band_m_s} | asked
            self._actions.use_goal(now["stop"], now["band"])

    def open_everybody(self, set_id: str = "") -> None:
        """All names over the whole screen: for the bar, or for a set that is somebody else's."""
        self._set_to_name = set_id
        self._window.everybody.open_page("whose set" if set_id else "who lifts")

    def _anybody(self, athlete_id: str) -> None:
        set_id, self._set_to_name = self._set_to_name, ""
        if set_id:
            self._actions.name_set(set_id, athlete_id)
        else:
            self.athlete(athlete_id)

    def _sign_in(self, staff: str) -> None:
        view = self._window.view
        if view is not None and staff in view.pin_needed:
            self._window.typing.ask_pin(staff)
        else:
            self._actions.sign_in(staff)

    def pin_typed(self, staff: str, pin: str) -> None:
        """A PIN was typed: of somebody who signs in, or a new one of whoever is signed in ("" for `staff`)."""
        if staff:
            self._actions.sign_in(staff, pin)
        else:
            self._actions.set_pin(pin)

    def _set(self, what: str, value: str) -> None:
        """One setting of the screen."""
        view = self._window.view
        if view is None:
            return
        now = view.settings
        match what:
            case "scale":
                now = replace(now, scale_percent=int(value))
            case "sound":
                now = replace(now, sound=value == "on")
            case "down":
                now = replace(now, most_down=float(value))
            case "up":
                now = replace(now, most_up=float(value))
            case "unit":
                now = replace(now, unit="lb" if value == "lb" else "kg")
            case "figure":
                others = tuple(pair for pair in now.figures if pair[0] != view.lift)
                now = replace(now, figures=(*others, (view.lift, FIGURES[value])))
        self._actions.use_settings(now)

    def keep_theme(self) -> None:
        """The theme somebody chose stays for the next start."""
        if self._window.view is not None:
            theme = self._window.look.palette.name
            self._actions.use_settings(replace(self._window.view.settings, theme=theme))

    def _name(self, athlete_id: str) -> None:
        view = self._window.view
        if view is not None and view.set is not None:
            self._actions.name_set(view.set.set_id, athlete_id)

    def _screen(self, kind: str) -> None:
        """Choices that concern the screen itself, and the bar without a name."""
        match kind:
            case "guest":
                self._actions.add_guest()
            case "sensor":
                self._actions.find_sensor()
            case "nobody":
                self._actions.switch_athlete(None)
            case "keypad":
                self._window.typing.open_keypad()
            case "pin":
                self._window.typing.ask_pin("")
            case "check-in":
                self._window.check_in_wanted.emit()
            case "athlete page":
                self._window.coach.open_page()
            case "end":
                self._actions.end_set()
            case "effort":
                self._effort()
            case "undo":
                self._actions.undo()
            case "use":
                self._use()
            case "keep":
                self._keep()
            case "theme":
                self._window.toggle_theme()
            case "cautions":
                self._window.cautions.show_again()
            case "full screen":
                self._window.toggle_full_screen()
