"""What a sensor calls itself is text from the air: the screen letters it as it is, and never reads it as markup."""

from __future__ import annotations

from dataclasses import replace

from station.capture.rack_view import TroubleLine
from station.screens.lettering import listen
from station.screens.sample_views import states
from tests.screens.conftest import SMALL, ShowRack

NAME = "<b>Bar</b> &amp; [red]1[/]"


def test_a_sensor_s_name_with_markup_is_shown_letter_by_letter(show_rack: ShowRack) -> None:
    trouble = TroubleLine("link", f"{NAME} is not in range", "Bring it near.", True)
    window = show_rack(replace(states()["mid set"], troubles=(trouble,)), SMALL)
    with listen() as heard:
        window.grab()
    assert f"{NAME} is not in range" in " ".join(line.text for line in heard)
