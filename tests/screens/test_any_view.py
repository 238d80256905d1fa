"""Whatever the rack shows, the screen paints it: odd names, no names, no numbers, far-off numbers."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from station.capture.rack_view import (
    AthleteTile,
    Decision,
    RackView,
    RepStatus,
    RepView,
    SetView,
    TroubleLine,
)
from station.readiness.results import Suggestion, UsualRange, WarmupPoint
from station.screens.sample_views import TODAY, base
from station.screens.wording import match_days
from tests.screens.conftest import ShowRack
from tests.screens.test_glance import check_text_boxes

TEXT = st.text(st.characters(codec="latin-1"), max_size=60)
VELOCITY = st.one_of(st.none(), st.floats(0.0, 4.0))
REPS = st.lists(
    st.builds(
        RepView,
        rep_id=st.uuids().map(str),
        number=st.integers(1, 99),
        status=st.sampled_from(RepStatus),
        mean_velocity_m_s=VELOCITY,
        mean_propulsive_velocity_m_s=VELOCITY,
        peak_velocity_m_s=VELOCITY,
        displacement_m=VELOCITY,
        uncertainty_m_s=st.one_of(st.none(), st.floats(0, 1)),
        why=TEXT,
    ),
    max_size=14,
).map(tuple)
SETS = st.one_of(
    st.none(),
    st.builds(
        SetView,
        set_id=st.just("s"),
        kind=st.sampled_from(["warm-up", "work"]),
        number=st.integers(1, 20),
        is_open=st.booleans(),
        reps=REPS,
        best_m_s=VELOCITY,
        velocity_loss=st.one_of(st.none(), st.floats(-1, 1)),
        stop_loss=st.one_of(st.none(), st.floats(0.05, 0.5)),
        stop_reached=st.booleans(),
        not_full_effort=st.booleans(),
        load_kg=st.one_of(st.none(), st.floats(0, 400)),
    ),
)
RANGES = st.one_of(
    st.none(),
    st.tuples(st.floats(0.05, 2), st.floats(0.01, 1), st.integers(0, 40)).map(
        lambda r: UsualRange(r[0], r[0] + r[1] / 2, r[0] + r[1], r[1] / 2.56, r[2], r[2] >= 3)
    ),
)
TILES = st.builds(
    AthleteTile,
    athlete_id=st.uuids().map(str),
    name=TEXT,
    shirt_number=st.one_of(st.none(), st.integers(0, 999)),
    to_do=TEXT,
)
POINTS = st.lists(
    st.builds(
        WarmupPoint,
        day=st.integers(0, 400).map(lambda ago: TODAY - timedelta(days=ago)),
        mean_velocity_m_s=st.floats(0.05, 3),
        match_day_label=st.sampled_from(["", "MD", "MD+3", "MD-1", "MD+x", "odd"]),
        equipment_changed=st.booleans(),
        counted=st.booleans(),
    ),
    max_size=30,
).map(lambda points: tuple(sorted(points, key=lambda p: p.day)))
SUGGESTIONS = st.one_of(
    st.none(),
    st.builds(
        Suggestion,
        load_kg=st.one_of(st.none(), st.floats(0, 400)),
        planned_kg=st.one_of(st.none(), st.floats(0, 400)),
        plates=st.none(),
        sentence=TEXT,
        sureness=TEXT,
        caution=TEXT,
    ),
)
TROUBLES = st.lists(st.builds(TroubleLine, TEXT, TEXT, TEXT, st.booleans()), max_size=4).map(tuple)
VIEWS = st.builds(
    lambda **changes: replace(base(), **changes),
    group=st.lists(TILES, max_size=9).map(tuple),
    athlete=st.one_of(st.none(), TILES),
    name_confirmed=st.booleans(),
    lift=TEXT,
    load_kg=st.floats(0, 400),
    set=SETS,
    usual=RANGES,
    target_band_m_s=st.one_of(st.none(), st.tuples(st.floats(0.1, 0.5), st.floats(0.5, 1))),
    history=POINTS,
    today=st.one_of(st.none(), st.just(WarmupPoint(TODAY, 0.6, "MD+2"))),
    suggestion=SUGGESTIONS,
    decision=st.one_of(st.none(), st.sampled_from(Decision)),
    troubles=TROUBLES,
    unit=st.sampled_from(["kg", "lb"]),
    figure=st.sampled_from(["mean", "propulsive", "peak"]),
    staff=st.one_of(st.none(), TEXT),
    say=TEXT,
)


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(view=VIEWS)
def test_any_view_is_painted_inside_its_widgets(show_rack: ShowRack, view: RackView) -> None:
    window = show_rack(view)
    window.grab()
    for parts in (window.now.bar_line, window.now.scale, window.history):
        check_text_boxes(parts)
    window.close()


@pytest.mark.parametrize(("label", "days_before"), [("MD", 0), ("MD+3", 3), ("MD-1", -1), ("MD−2", -2)])
def test_a_match_stands_on_the_day_it_was_played(label: str, days_before: int) -> None:
    assert match_days([WarmupPoint(TODAY, 0.6, label)]) == [TODAY - timedelta(days=days_before)]
