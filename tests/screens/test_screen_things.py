"""Tones, badges, PINs, several sets, settings, the coach's page, an open page that follows, a display kept awake."""

from __future__ import annotations

import io
import wave
from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QAbstractButton
from pytestqt.qtbot import QtBot

from station.capture.rack_view import CoachNotes, RackView, RepStatus, ScreenSettings, SessionSet
from station.readiness.season import SeasonTrend, Trend
from station.readiness.sensitivity import WarmupShows
from station.readiness.within_set import RepsLeft
from station.screens.awake import KeepAwake
from station.screens.coach_words import coach_lines
from station.screens.drawer import DEAF_MS
from station.screens.rack_window import RackWindow
from station.screens.sample_views import base, rep, set_of, states
from station.screens.tones import RATE_HZ, Tone, tone_due, wave_bytes
from tests.screens.conftest import LARGE, SMALL, ShowRack
from tests.screens.recording import RecordingActions
from tests.screens.test_glance import check_text_boxes
from tests.screens.test_touches import WAIT_MS, choose

LEFT = Qt.MouseButton.LeftButton
NOTES = CoachNotes(
    season=SeasonTrend(Trend.HOLDING, 8.0, 0.01, -0.02, 0.03),
    shows=WarmupShows(0.09, False, 70.0),
    like_day="MD+3, did not play",
    like_sessions=4,
    velocity_at_1rm_m_s=0.31,
    own_velocity_at_1rm=True,
    not_done=(("bench press", date(2026, 2, 20)),),
    reps_left=RepsLeft(2.2, 1.1, 3.6),
)


def choice_words(window: RackWindow) -> list[str]:
    return [b.words for b in window.drawer.buttons if b.isVisible()]


# -- tones -----------------------------------------------------------------------------------------------------


def lifting(
    *speeds: float, sound: bool = True, stop: float | None = 0.2, displacement: float = 0.52
) -> RackView:
    reps = tuple(rep(n, v) for n, v in enumerate(speeds, 1))
    reps = (*reps[:-1], replace(reps[-1], displacement_m=displacement))
    made = set_of(*reps, kind="work", stop=stop)
    return replace(base(), set=made, target_band_m_s=(0.45, 0.55), settings=ScreenSettings(sound=sound))


def test_a_full_range_rep_in_the_band_sounds_once() -> None:
    before, now = lifting(0.52), lifting(0.52, 0.50)
    assert tone_due(before, now) is Tone.IN_BAND
    assert tone_due(now, now) is None


def test_outside_the_band_short_or_switched_off_is_silent() -> None:
    assert tone_due(lifting(0.52), lifting(0.52, 0.60)) is None
    assert tone_due(lifting(0.52), lifting(0.52, 0.50, displacement=0.40)) is None
    assert tone_due(lifting(0.52), lifting(0.52, 0.50, sound=False)) is None
    assert not ScreenSettings().sound


def test_the_stop_has_a_tone_of_its_own_and_nothing_follows_it_up() -> None:
    assert tone_due(lifting(0.55, 0.50), lifting(0.55, 0.50, 0.43)) is Tone.STOP


def test_a_rep_that_is_uncertain_or_struck_is_silent() -> None:
    now = lifting(0.52, 0.50)
    assert now.set is not None
    for status in (RepStatus.UNCERTAIN, RepStatus.STRUCK, RepStatus.FAILED):
        reps = (now.set.reps[0], replace(now.set.reps[1], status=status))
        assert tone_due(lifting(0.52), replace(now, set=replace(now.set, reps=reps))) is None


@pytest.mark.parametrize(("tone", "pitch_hz"), [(Tone.IN_BAND, 880.0), (Tone.STOP, 330.0)])
def test_a_tone_is_a_sound_file_of_its_pitch(tone: Tone, pitch_hz: float) -> None:
    with wave.open(io.BytesIO(wave_bytes(tone))) as file:
        assert (file.getnchannels(), file.getsampwidth(), file.getframerate()) == (1, 2, RATE_HZ)
        samples = np.frombuffer(file.readframes(file.getnframes()), "<i2").astype(float)
    spectrum = np.abs(np.fft.rfft(samples))
    loudest = np.fft.rfftfreq(len(samples), 1 / RATE_HZ)[int(np.argmax(spectrum))]
    assert loudest == pytest.approx(pitch_hz, abs=5)
    assert abs(samples[0]) < 500  # begins without a click


def test_the_window_says_which_tone_is_due(qtbot: QtBot, show_rack: ShowRack) -> None:
    window = show_rack(lifting(0.52))
    with qtbot.waitSignal(window.tone_due, timeout=WAIT_MS) as heard:
        window.show_view(lifting(0.52, 0.50))
    assert heard.args == [Tone.IN_BAND]


# -- badges ----------------------------------------------------------------------------------------------------


def test_a_badge_with_letters_calls_its_athlete(
    qtbot: QtBot, show_rack: ShowRack, actions: RecordingActions
) -> None:
    window = show_rack(replace(states()["mid set"], badges=(("E0TFSB42", "a3"),)))
    qtbot.keyClicks(window, "E0TFSB42")
    qtbot.keyClick(window, Qt.Key.Key_Return)
    assert actions.calls == [("switch_athlete", "a3")]
    assert not window.drawer.isVisible()  # none of its letters was a shortcut


def test_a_badge_that_is_nobodys_is_given_in_one_touch(
    qtbot: QtBot, show_rack: ShowRack, actions: RecordingActions
) -> None:
    window = show_rack(states()["mid set"])
    qtbot.keyClicks(window, "E0TFSB42")
    qtbot.keyClick(window, Qt.Key.Key_Return)
    choose(qtbot, window, "Noor Osei")
    assert actions.calls == [("give_badge", "E0TFSB42", "a4")]


# -- PIN -------------------------------------------------------------------------------------------------------


def test_who_has_a_pin_types_it_and_it_is_not_shown(
    qtbot: QtBot, show_rack: ShowRack, actions: RecordingActions
) -> None:
    window = show_rack(replace(base(), pin_needed=("Coach Lund",)))
    qtbot.mouseClick(window.tiles.more, LEFT)
    choose(qtbot, window, "Sign in")
    choose(qtbot, window, "Coach Lund")
    assert actions.calls == []
    for key in ("2", "4", "6", "8"):
        qtbot.mouseClick(window.keypad.buttons[key], LEFT)
    assert "2468" not in window.strip.words()
    assert "••••" in window.strip.words()
    qtbot.mouseClick(window.keypad.buttons["Enter"], LEFT)
    assert actions.calls == [("sign_in", "Coach Lund", "2468")]
    window.show_view(
        replace(base(), pin_words="That is not the PIN of Coach Lund. Wait 2 s before the next try.")
    )
    assert "not the PIN" in window.strip.words()


def test_a_pin_is_chosen_by_whoever_is_signed_in(
    qtbot: QtBot, show_rack: ShowRack, actions: RecordingActions
) -> None:
    window = show_rack(base())
    qtbot.mouseClick(window.tiles.more, LEFT)
    choose(qtbot, window, "PIN")
    qtbot.keyClicks(window, "1357")
    qtbot.keyClick(window, Qt.Key.Key_Return)
    assert actions.calls == [("set_pin", "1357")]


# -- several sets, settings -----------------------------------------------------------------------------------


def test_several_sets_are_corrected_in_four_touches(
    qtbot: QtBot, show_rack: ShowRack, actions: RecordingActions
) -> None:
    lifted = (
        SessionSet("s8", "10:02", "Ines Varga", "back squat", 60.0),
        SessionSet("s9", "10:05", "Noor Osei", "back squat", 60.0),
    )
    bars = (("usual bar", 20.0), ("short bar", 15.0))
    window = show_rack(replace(base(), session_sets=lifted, bars=bars, bar_kg=20.0))
    for words in ("62.5 kg", "short bar"):
        qtbot.mouseClick(window.tiles.more, LEFT)
        choose(qtbot, window, "Several sets")
        choose(qtbot, window, "10:02 Ines Varga")
        choose(qtbot, window, words)
    qtbot.mouseClick(window.tiles.more, LEFT)
    for words in ("Several sets", "10:05 Noor Osei", "Another lift", "front squat"):
        choose(qtbot, window, words)
    assert actions.calls == [
        ("correct_from", "s8", "load_kg", 62.5),
        ("correct_from", "s8", "bar_kg", 15.0),
        ("correct_from", "s9", "lift", "front squat"),
    ]


def test_another_bar_is_chosen_by_what_it_weighs(
    qtbot: QtBot, show_rack: ShowRack, actions: RecordingActions
) -> None:
    window = show_rack(replace(base(), bars=(("usual bar", 20.0), ("short bar", 14.8)), bar_kg=20.0))
    qtbot.mouseClick(window.controls.bar, LEFT)
    choose(qtbot, window, "Which bar")
    choose(qtbot, window, "short bar")
    assert actions.calls == [("use_bar", 14.8)]


@pytest.mark.parametrize(
    ("touches", "wanted"),
    [
        (("Size", "150 %"), ScreenSettings(scale_percent=150)),
        (("Pounds",), ScreenSettings(unit="lb")),
        (("Sound on",), ScreenSettings(sound=True)),
        (("Big number", "Peak"), ScreenSettings(figures=(("back squat", "peak"),))),
        (("Light",), ScreenSettings(theme="light")),
    ],
)
def test_the_screen_is_set_by_touch(
    qtbot: QtBot,
    show_rack: ShowRack,
    actions: RecordingActions,
    touches: tuple[str, ...],
    wanted: ScreenSettings,
) -> None:
    window = show_rack(base())
    qtbot.mouseClick(window.tiles.more, LEFT)
    for words in ("Screen", *touches):
        choose(qtbot, window, words)
    assert actions.calls == [("use_settings", wanted)]


def test_what_changes_on_the_bar_stands_below_the_name(show_rack: ShowRack) -> None:
    window = show_rack(replace(states()["next load"], bar_change="60 to 95 kg: add 15 + 2.5 a side"))
    assert "add 15 + 2.5 a side" in window.now.bar_line.accessibleName()
    check_text_boxes(window)


# -- an open page follows the rack ----------------------------------------------------------------------------


def test_an_open_page_shows_a_rep_that_came_meanwhile_and_takes_no_touch_meant_for_another(
    qtbot: QtBot, show_rack: ShowRack, actions: RecordingActions
) -> None:
    view = states()["first rep"]
    window = show_rack(view)
    qtbot.mouseClick(window.controls.this_set, LEFT)
    place = choice_words(window).index("Rep 1 0.63")
    under_the_finger: QAbstractButton = window.drawer.buttons[place]
    window.show_view(replace(view, set=set_of(rep(1, 0.63), rep(2, 0.61))))
    assert choice_words(window)[place] == "Rep 2 0.61"
    qtbot.mouseClick(under_the_finger, LEFT)
    assert actions.calls == []
    qtbot.wait(DEAF_MS + 50)
    qtbot.mouseClick(under_the_finger, LEFT)
    assert actions.calls == [("strike_rep", "r2", True)]


def test_a_page_that_has_not_changed_takes_every_touch(
    qtbot: QtBot, show_rack: ShowRack, actions: RecordingActions
) -> None:
    view = states()["first rep"]
    window = show_rack(view)
    qtbot.mouseClick(window.controls.this_set, LEFT)
    window.show_view(replace(view, troubles=states()["link lost"].troubles))
    choose(qtbot, window, "Rep 1 0.63")
    assert actions.calls == [("strike_rep", "r1", True)]


# -- the coach's page ------------------------------------------------------------------------------------------


def test_the_coachs_page_says_season_limits_and_what_the_warm_up_load_shows() -> None:
    said = coach_lines(replace(states()["slower"], coach=NOTES))
    assert said == [
        "0.06 slower than usual at 60 kg, MD+3.",
        "Reps left: about 2 (1 to 4), from own sets to the limit.",
        "Strength over the season: holding, −2 % to +3 % in 8 weeks.",
        "Today is MD+3, did not play: 4 earlier sessions on such days.",
        "Chance of being down by what 5 % of strength is worth (0.03 m/s): 90 %; up: 2 %.",
        "1RM today about 128 kg (121 to 135 kg): not permission to try it.",
        "Speed at 1RM 0.31 m/s: the athlete's own.",
        "60 kg shows a loss of strength only from 9 % on; 70 kg would do.",
        "Not done for three weeks: bench press, last on 20 Feb.",
        said[-1],
    ]
    assert said[-1].startswith("Sensor or bar changed on")


def test_in_pounds_it_speaks_pounds() -> None:
    view = replace(states()["pounds"], coach=NOTES)
    assert not [line for line in coach_lines(view) if " kg" in line]


def test_it_is_never_on_the_athletes_part(qtbot: QtBot, show_rack: ShowRack) -> None:
    window = show_rack(replace(states()["slower"], coach=NOTES))
    assert not window.coach.isVisible()
    qtbot.mouseClick(window.tiles.more, LEFT)
    choose(qtbot, window, "Athlete")
    assert window.coach.isVisible()
    assert not window.coach.geometry().intersects(window.now.geometry())
    assert "Reps left" not in window.now.accessibleName()
    qtbot.keyClick(window, Qt.Key.Key_Escape)
    assert not window.coach.isVisible()


@pytest.mark.parametrize("screen", [SMALL, LARGE], ids=["10in", "15in"])
@pytest.mark.parametrize("percent", [100, 200])
def test_every_sentence_is_on_one_of_its_pages(
    qtbot: QtBot, show_rack: ShowRack, screen: object, percent: int
) -> None:
    from tests.screens.glance import lettered

    view = replace(states()["slower"], coach=NOTES, settings=ScreenSettings(scale_percent=percent))
    window = show_rack(view, screen)
    window.coach.open_page()
    seen = ""
    for _ in range(9):
        check_text_boxes(window.coach)
        seen += " ".join(line.text for line in lettered(window.coach)) + " "
        if window.coach.more_button.isVisible():
            qtbot.mouseClick(window.coach.more_button, LEFT)
    for line in coach_lines(view):
        assert line in seen


# -- awake -----------------------------------------------------------------------------------------------------


class OneWay:
    def __init__(self, agrees: bool) -> None:
        self.agrees = agrees
        self.said: list[str] = []

    def hold(self) -> bool:
        self.said.append("hold")
        return self.agrees

    def release(self) -> None:
        self.said.append("release")


def test_the_display_is_held_awake_once_and_given_back(qtbot: QtBot) -> None:
    refuses, agrees = OneWay(False), OneWay(True)
    awake = KeepAwake([refuses, agrees])
    for wanted in (True, True, False, False):
        awake.want(wanted)
    assert refuses.said == ["hold"]
    assert agrees.said == ["hold", "release"]


def test_a_system_that_refuses_is_asked_once_and_nothing_is_raised(qtbot: QtBot) -> None:
    refuses = OneWay(False)
    awake = KeepAwake([refuses])
    for _ in range(3):
        awake.want(True)
    assert refuses.said == ["hold"]
    assert not awake.held
