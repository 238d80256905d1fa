"""The page of one athlete: the season in three plots, the load-velocity line then and now, what it says in words."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeySequence, QResizeEvent, QShortcut
from PySide6.QtWidgets import QComboBox, QWidget

from station.capture.athlete_season import AthleteSeason
from station.capture.rack_view import Unit
from station.readiness.plates import KG_PER_LB, load_words
from station.readiness.season import SeasonTrend
from station.screens.kiosk_who import SmallButton
from station.screens.page import in_a_row
from station.screens.review_fields import fill
from station.screens.review_season_plots import CM, LinesPlot, SeasonPlot
from station.screens.roster_panes import Paragraphs
from station.screens.theme import OTHER_CONTROL_MM, Look, TextSize

LEFT_SHARE = 0.58
BACK, PRINT = "Back", "Print season"
CAUTION = "An estimate is not permission to try it."
MARKS = "▲ match · dotted: sensor or bar changed · hollow: not counted"


class ReviewAthletePage(QWidget):
    """One athlete and lift.

    Signals:
        left: back to where one came from.
        lift_wanted: another lift of this athlete.
        print_wanted: this season on paper.
    """

    left = Signal()
    lift_wanted = Signal(str)
    print_wanted = Signal()

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.look = look
        self.season: AthleteSeason | None = None
        self.back = SmallButton(BACK, look, self)
        self.back.clicked.connect(self.left)
        self.print = SmallButton(PRINT, look, self)
        self.print.clicked.connect(self.print_wanted)
        self.lift = QComboBox(self)
        self.lift.setAccessibleName("lift of the season")
        self.lift.currentIndexChanged.connect(self._lift_chosen)
        self.head = Paragraphs(look, self)
        self.speeds, self.maxima, self.jumps = (
            SeasonPlot(words, look, self) for words in ("warm-up speed", "estimated 1RM", "jump height")
        )
        self.lines = LinesPlot("load-velocity line", look, self)
        self.words = Paragraphs(look, self)
        self.words.first_strong = False
        shortcut = QShortcut(QKeySequence("Esc"), self)
        shortcut.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
        shortcut.activated.connect(self.back.click)

    def show_season(self, season: AthleteSeason, unit: Unit) -> None:
        """Paint it."""
        self.season = season
        fill(self.lift, [(lift, lift) for lift in season.lifts])
        self.lift.blockSignals(True)
        self.lift.setCurrentIndex(max(self.lift.findData(season.lift), 0))
        self.lift.blockSignals(False)
        self.head.say(f"{season.name}: {season.first:%d %b %Y} to {season.last:%d %b %Y}")
        self._show_speeds(season, unit)
        self._show_maxima(season, unit)
        self._show_jumps(season)
        self.lines.show_lines(season, unit)
        self.words.say(*season_words(season, unit))

    def _show_speeds(self, season: AthleteSeason, unit: Unit) -> None:
        if not season.warmups or season.warmup_load_kg is None:
            self.speeds.nothing("no warm-up sets of this lift")
            return
        speeds, usual = [p.mean_velocity_m_s for p in season.warmups], season.usual
        self.speeds.begin(season, [*speeds, *([usual.low_m_s, usual.high_m_s] if usual else [])])
        if usual is not None:
            self.speeds.level(usual.low_m_s, usual.high_m_s)
        self.speeds.points([p.day for p in season.warmups], speeds, [p.counted for p in season.warmups])
        load = load_words(season.warmup_load_kg, unit)
        self.speeds.say(f"warm-up speed at {load}, m/s; band: usual range today")

    def _show_maxima(self, season: AthleteSeason, unit: Unit) -> None:
        if not season.one_rm:
            self.maxima.nothing("no 1RM can be estimated")
            return
        per_unit = KG_PER_LB if unit == "lb" else 1.0
        low, mid, high = (
            [kg / per_unit for kg in values]
            for values in zip(*((p.low_kg, p.kg, p.high_kg) for p in season.one_rm), strict=True)
        )
        days = [p.day for p in season.one_rm]
        self.maxima.begin(season, [*low, *high])
        self.maxima.intervals(days, low, high)
        self.maxima.points(days, mid, [True] * len(mid))
        self.maxima.say(f"estimated 1RM, {unit}, with its 80 % interval")

    def _show_jumps(self, season: AthleteSeason) -> None:
        if not season.jumps:
            self.jumps.nothing("no jumps this season")
            return
        heights = [CM * p.mean_m for p in season.jumps]
        self.jumps.begin(season, heights)
        self.jumps.points([p.day for p in season.jumps], heights, [True] * len(heights))
        self.jumps.say("jump height, cm, mean of the day's valid trials")

    def _lift_chosen(self) -> None:
        self.lift_wanted.emit(str(self.lift.currentData() or ""))

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Three plots at the left, line and words at the right."""
        metrics = self.look.metrics
        row, gap = metrics.mm(OTHER_CONTROL_MM), metrics.gap
        in_a_row([self.back, self.lift, self.print, self.head], 0, 0, self.width(), row, gap, last=2.6)
        self.head.setFixedHeight(max(row, round(2.6 * metrics.line_px(TextSize.COACH))))
        top, left = self.head.height() + gap, round(self.width() * LEFT_SHARE)
        each = (self.height() - top) // 3
        for n, plot in enumerate((self.speeds, self.maxima, self.jumps)):
            plot.setGeometry(0, top + n * each, left - gap, each)
        right, room = self.width() - left, self.height() - top
        words = min(round(14.0 * metrics.line_px(TextSize.COACH)), round(0.6 * room))
        self.lines.setGeometry(left, top, right, room - words)
        self.words.setGeometry(left, self.height() - words, right, words)


def season_words(season: AthleteSeason, unit: Unit) -> list[str]:
    """What the plots say, the most wanted first; what is missing last."""
    lines = [] if season.trend is None else [_trend(season.trend)]
    if season.one_rm:
        last = season.one_rm[-1]
        low, high = (load_words(round(kg), unit) for kg in (last.low_kg, last.high_kg))
        middle = load_words(round(last.kg), unit)
        lines.append(f"1RM on {last.day:%d %b} about {middle} ({low.split()[0]} to {high}).")
        lines.append(CAUTION)
    lines += season.missing
    return [*lines, MARKS]


def _trend(trend: SeasonTrend) -> str:
    if trend.low is None or trend.high is None:
        return f"Strength over the season: {trend.trend}."
    low, high = (
        f"{100 * share:+.0f}".replace("-", "−").replace("+0", "0") for share in (trend.low, trend.high)
    )
    return f"Strength over the season: {trend.trend}, {low} to {high} % in {trend.weeks:.0f} weeks."
