"""What a touch or key means: the one place where the rack screen calls `RackActions`."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QTimer

from station.capture.rack_view import Decision, RackActions
from station.screens import drawer_pages

if TYPE_CHECKING:
    from station.screens.rack_window import RackWindow

ASKED_FOR_MS = 1500


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
        row.end.clicked.connect(actions.end_set)
        row.next.clicked.connect(self._next)
        row.use.clicked.connect(self._use)
        row.change.clicked.connect(self._open_change)
        row.keep.clicked.connect(self._keep)
        window.tiles.touched.connect(self.athlete)
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

    def _open(self, page: str) -> None:
        view, drawer = self._window.view, self._window.drawer
        if view is None:
            return
        theme = self._window.look.palette.name
        pages = {
            "bar": ("Load and lift", drawer_pages.bar_page(view)),
            "lift": ("Lift", drawer_pages.lift_page(view)),
            "set": ("This set", drawer_pages.set_page(view)),
            "whose": ("Whose set?", drawer_pages.whose_page(view)),
            "change": ("Other load", drawer_pages.change_page(view)),
            "more": ("More", drawer_pages.more_page(view, theme)),
            "staff": ("Sign in", drawer_pages.staff_page(view)),
        }
        drawer.open_page(*pages[page])

    def _open_bar(self) -> None:
        self._open("bar")

    def _open_set(self) -> None:
        self._open("set")

    def _open_more(self) -> None:
        self._open("more")

    def _open_change(self) -> None:
        self._open("change")

    def _chosen(self, key: str) -> None:
        kind, _, value = key.partition(":")
        match kind:
            case "page":
                self._open(value)
            case "load":
                self._actions.set_load(float(value))
            case "lift":
                self._actions.set_lift(value)
            case "strike" | "back":
                self._actions.strike_rep(value, kind == "strike")
            case "change":
                self._actions.decide(Decision.CHANGE, float(value))
            case "staff":
                self._actions.sign_in(value)
            case "athlete":
                self.athlete(value)
            case "whose":
                self._name(value)
            case _:
                self._screen(kind)

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
                self._window.open_keypad()
            case "theme":
                self._window.toggle_theme()
            case "cautions":
                self._window.cautions.show_again()
            case "full screen":
                self._window.toggle_full_screen()
