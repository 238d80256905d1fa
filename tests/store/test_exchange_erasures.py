"""An erasure made at a rack reaches the server, the desk and every other rack, though racks delete nothing."""

from __future__ import annotations

import pytest
from sqlalchemy import text
from sqlalchemy.exc import ProgrammingError

from station.store.erased_ledger import read_ledger
from station.store.erasure import erase_athlete
from station.store.exchange_server import engine_for
from tests.shared_postgres import Shared
from tests.store.squad_record import AINO, BELA, DAY, everything_about, lift
from tests.store.test_exchange import (
    Place,
    desk,
    everywhere_in_the_server,
    make,
    rack_1,
    rack_2,
    settle,
)

__all__ = ["desk", "make", "rack_1", "rack_2"]


def test_what_was_erased_at_a_rack_is_erased_everywhere(
    desk: Place, rack_1: Place, rack_2: Place, shared: Shared
) -> None:
    settle(desk, rack_1)
    everything_about(rack_1.record, AINO)
    lift(rack_1.record, BELA, (0.55,))
    settle(rack_1, rack_2, desk)
    erase_athlete(rack_2.record, AINO, DAY)
    settle(rack_2, desk, rack_1)
    settle(rack_2, desk, rack_1)
    assert everywhere_in_the_server(shared, AINO) == ["erasures"]
    assert everywhere_in_the_server(shared, "Amsel") == []
    for place in (desk, rack_1, rack_2):
        assert place.names() == ["Bela Birkholz"]
        assert place.count("outgoing") == 0
    assert len(list((rack_1.record.database.folder / "raw").glob("*"))) == 0


def test_it_waits_at_the_server_for_the_desk_and_goes_once(
    desk: Place, rack_1: Place, shared: Shared
) -> None:
    settle(desk, rack_1)
    erase_athlete(rack_1.record, AINO, DAY)
    settle(rack_1)
    assert everywhere_in_the_server(shared, AINO)
    assert "erasures" not in everywhere_in_the_server(shared, AINO)
    settle(desk)
    assert everywhere_in_the_server(shared, AINO) == ["erasures"]
    settle(rack_1, desk)
    assert desk.count("erasures") == rack_1.count("erasures") == 1


def test_an_erased_athletes_rows_from_a_rack_that_did_not_know_are_refused(
    desk: Place, rack_1: Place, rack_2: Place, shared: Shared
) -> None:
    settle(desk, rack_1, rack_2)
    erase_athlete(rack_1.record, AINO, DAY)
    settle(rack_1, desk)
    everything_about(rack_2.record, AINO)
    settle(rack_2, desk, rack_1)
    assert everywhere_in_the_server(shared, AINO) == ["erasures"]
    assert [row[1] for row in rack_2.view()] == []


def test_a_machine_that_heard_of_an_erasure_has_it_in_its_ledger(desk: Place, rack_1: Place) -> None:
    settle(desk, rack_1)
    erase_athlete(rack_1.record, AINO, DAY)
    settle(rack_1, desk)
    assert [one.athlete_id for one in read_ledger(desk.record.database.folder.parent)] == [AINO]


def test_a_rack_reads_nothing_of_what_others_ask_for(shared: Shared) -> None:
    engine = engine_for(shared.doors.rack)
    for words in (
        "SELECT * FROM erasure_asks",
        "DELETE FROM erasure_asks",
        "SELECT content FROM raw_contents",
    ):
        with pytest.raises(ProgrammingError, match="permission denied"), engine.begin() as connection:
            connection.execute(text(words))
    engine.dispose()
