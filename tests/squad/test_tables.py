"""Tables of people: what an edited, pasted or imported one would change, and what is wrong, line by line."""

from __future__ import annotations

from datetime import date

import pytest

from station.squad.athletes import Athlete
from station.squad.plan_table import COLUMNS as PLAN_COLUMNS
from station.squad.plan_table import PlanLine, plan_key, plan_rows, preview_plans
from station.squad.roster import RosterChange, RosterLine
from station.squad.roster_table import COLUMNS, Joins, preview_roster, roster_rows
from station.squad.table_text import Row, TableError, read_table

DAY = date(2026, 10, 14)
SQUAD = (
    RosterLine(Athlete("a", "Aino Amsel", 7, "rack 1"), "backs"),
    RosterLine(Athlete("b", "Bela Birkholz", 8, "rack 2"), "forwards"),
)


def edited(line: int, **cells: str) -> list[Row]:
    """The roster as it stands with one row changed by hand."""
    rows = roster_rows(SQUAD)
    rows[line] = Row(
        rows[line].line,
        rows[line].cells | {k.replace("_in_", " "): v for k, v in cells.items()},
        rows[line].key,
    )
    return rows


def words(rows: list[Row]) -> list[str]:
    return [sentence for sentence, _ in preview_roster(rows, SQUAD, DAY).changes]


def errors(rows: list[Row]) -> list[str]:
    return [error.in_words() for error in preview_roster(rows, SQUAD, DAY).errors]


def test_the_roster_as_it_stands_changes_nothing() -> None:
    made = preview_roster(roster_rows(SQUAD), SQUAD, DAY)
    assert made.empty
    assert made.errors == ()


def test_each_change_is_a_sentence_from_a_day() -> None:
    rows = edited(0, name="Aino Birkholz", shirt_number="14", group="rack 3")
    assert words(rows) == [
        "Aino Amsel: name Aino Amsel → Aino Birkholz",
        "Aino Amsel: number 7 → 14",
        "Aino Amsel: group rack 1 → rack 3",
    ]
    (_, first), *_ = preview_roster(rows, SQUAD, DAY).changes
    assert first == RosterChange("a", "name", "Aino Birkholz", DAY)


def test_leaving_is_said_and_who_is_not_in_the_table_stays() -> None:
    rows = roster_rows(SQUAD)
    gone = Row(1, rows[0].cells | {"in squad": "no"}, "a")
    assert words([gone]) == ["Aino Amsel leaves"]


def test_a_pasted_table_is_matched_by_name_and_new_names_join() -> None:
    text = "Name\tShirt number\tGroup\nbela birkholz\t9\track 2\nCiro Carstam\t10\track 2\n"
    made = preview_roster(read_table(text, COLUMNS), SQUAD, DAY)
    assert [sentence for sentence, _ in made.changes] == [
        "Bela Birkholz: name Bela Birkholz → bela birkholz",
        "Bela Birkholz: number 8 → 9",
        "Ciro Carstam joins, number 10, rack 2",
    ]
    assert isinstance(made.changes[-1][1], Joins)


def test_without_heads_the_cells_are_taken_in_order() -> None:
    assert words(read_table("Ciro Carstam\t10\track 2", COLUMNS)) == ["Ciro Carstam joins, number 10, rack 2"]


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_commas_semicolons_and_tabs_separate_and_quotes_hold_together(separator: str) -> None:
    text = f'\ufeffname{separator}shirt_number\n"Carstam{separator} Ciro"{separator}10\n'
    (row,) = read_table(text, COLUMNS)
    assert (row["name"], row["shirt_number"], row.line) == (f"Carstam{separator} Ciro", "10", 2)


def test_every_bad_line_is_named_and_the_others_count() -> None:
    text = (
        "name,shirt_number,in squad\nAino Amsel,x,\n,5,\nCiro Carstam,10.5,\n"
        "Dagny Dorn,3,perhaps\nEdda Elm,4,\nEdda Elm,5,\nFenno Farn,6,\n"
    )
    rows = read_table(text, COLUMNS)
    assert errors(rows) == [
        "line 2: shirt_number 'x' is not a number",
        "line 3: the name is empty",
        "line 4: shirt_number 10.5 is not a whole number",
        "line 5: in squad is yes or no, not 'perhaps'",
        "line 6: Edda Elm is in the table twice",
        "line 7: Edda Elm is in the table twice",
    ]
    assert words(rows) == ["Fenno Farn joins, number 6"]


def test_two_of_one_name_are_told_apart_in_the_table_and_not_guessed_from_a_paste() -> None:
    twins = (*SQUAD, RosterLine(Athlete("c", "Aino Amsel", 22, "rack 3")))
    made = preview_roster(read_table("Aino Amsel\t9", COLUMNS), twins, DAY)
    assert made.errors[0].words == "2 athletes are called Aino Amsel; change them in the table itself"
    rows = roster_rows(twins)
    changed = preview_roster([Row(3, rows[2].cells | {"shirt_number": "23"}, "c")], twins, DAY)
    assert [sentence for sentence, _ in changed.changes] == ["Aino Amsel: number 22 → 23"]


def test_nothing_to_read_is_said() -> None:
    with pytest.raises(TableError, match="copy the cells"):
        read_table(" \n", COLUMNS)


PLAN = PlanLine("back squat", 60.0, 95.0, 100.0, "a")
CURRENT = {plan_key(PLAN): PLAN}


def plans(text: str) -> tuple[list[str], list[str]]:
    made = preview_plans(read_table(text, PLAN_COLUMNS), SQUAD, CURRENT)
    return [sentence for sentence, _ in made.changes], [error.in_words() for error in made.errors]


def test_plans_for_an_athlete_and_for_a_group_and_with_a_comma_for_a_point() -> None:
    changes, wrong = plans("Aino Amsel\tback squat\t60\t97,5\t100\nrack 2\tBack Squat\t50\t\t\n")
    assert wrong == []
    assert changes == [
        "Aino Amsel, back squat: warm-up 60, planned 95, at most 100 kg → warm-up 60, planned 97.5, at most 100 kg",
        "rack 2, back squat: new: warm-up 50 kg",
    ]


def test_plans_as_they_stand_change_nothing() -> None:
    assert preview_plans(plan_rows([PLAN], SQUAD), SQUAD, CURRENT).empty


def test_every_bad_plan_is_named_by_its_line() -> None:
    _, wrong = plans(
        "who\tlift\twarmup_load_kg\tplanned_load_kg\tceiling_kg\n"
        "Nobody Known\tback squat\t60\t\t\n"
        "Aino Amsel\tback squat\t\t\t\n"
        "Aino Amsel\tback squat\t60\t100\t90\n"
        "Aino Amsel\tback squat\tsixty\t\t\n"
        "Aino Amsel\tback squat\t900\t\t\n"
        "rack 2\tsomersault\t60\t\t\n"
    )
    assert wrong[:5] == [
        "line 2: nobody and no group is called Nobody Known",
        "line 3: the fixed warmup_load_kg is empty",
        "line 4: the ceiling of 90 kg is below the load of 100 kg",
        "line 5: warmup_load_kg 'sixty' is not a number",
        "line 6: warmup_load_kg 900 is not between 1 and 500",
    ]
    assert wrong[5].startswith("line 7: ")
    assert "back squat" in wrong[5]  # the known lifts are named
