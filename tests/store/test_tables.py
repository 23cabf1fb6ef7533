"""CSV tables: every cell within its bounds, every fault with its line and column."""

from __future__ import annotations

import numpy as np
import pytest

from planner.errors import Fault, InputError
from planner.store import tables
from planner.store.tables import Column, Table, read_table

KNOWN = {
    "km": Column(0.0, 50.0),
    "air_c": Column(-10.0, 40.0, gaps=True, example="21"),
    "rain_mm": Column(0.0, 9.0, required=False),
}


def read(text: str) -> Table:
    return read_table(text, KNOWN, "w.csv")


def faults_of(text: str) -> list[Fault]:
    with pytest.raises(InputError) as caught:
        read(text)
    assert caught.value.where == "w.csv"
    return list(caught.value.faults)


def test_columns_are_read_in_any_order_and_those_left_out_are_unknown() -> None:
    table = read(" air_c ,km\n 12.5 , 1\n-3,2\n")
    assert table.columns["km"].tolist() == [1.0, 2.0]
    assert table.columns["air_c"].tolist() == [12.5, -3.0]
    assert np.isnan(table.columns["rain_mm"]).tolist() == [True, True]
    assert list(table.columns) == list(KNOWN)


def test_remarks_stand_above_the_table_and_lines_count_from_the_top_of_the_file() -> None:
    table = read("# kind: own\n#note: one\n\n# note: two: three\n# plain\nkm,air_c\n1,2\n\n2,3\n")
    assert table.remarks == {"kind": ("own",), "note": ("one", "two: three")}
    assert table.lines == (7, 9)
    assert (table.first("note"), table.first("none"), table.first("none", "x")) == ("one", "", "x")


@pytest.mark.parametrize(("cell", "value"), [("0", 0.0), ("50", 50.0), ("5e1", 50.0)])
def test_the_bounds_of_a_column_are_allowed(cell: str, value: float) -> None:
    assert read(f"km,air_c\n{cell},1\n").columns["km"][0] == value


@pytest.mark.parametrize("cell", ["-0.1", "50.1", "inf", "nan", "1e999"])
def test_beyond_them_is_a_fault(cell: str) -> None:
    problem, remedy = "this is not between 0 and 50", "Write a number such as 12.5"
    assert faults_of(f"km,air_c\n{cell},1\n") == [Fault("line 2, km", cell, problem, remedy)]


def test_a_gap_is_unknown_where_allowed_and_a_fault_elsewhere() -> None:
    assert np.isnan(read("km,air_c\n1,\n").columns["air_c"][0])
    assert faults_of("km,air_c\n,1\n") == [
        Fault("line 2, km", "", "this is empty", "Write a number such as 12.5")
    ]
    assert faults_of("km,air_c,rain_mm\n1,,\n")[0].field == "line 2, rain_mm"


def test_a_cell_that_is_no_number_shows_an_example() -> None:
    remedy = "Write a number such as 21, or leave it empty"
    assert faults_of("km,air_c\n1,warm\n") == [Fault("line 2, air_c", "warm", "this cannot be read", remedy)]


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("", Fault("", "", "there is no table", "Start with a line of column names")),
        ("km,air_c\n\n", Fault("", "", "the table has no rows", "Add rows below the column names")),
        ("km\n1\n", Fault("column air_c", "", "this column is missing", "Add it")),
        (
            "km,air_c,km\n1,2,3\n",
            Fault("column km", "", "this column stands twice", "Take one of them out"),
        ),
        (
            "km,air_c,rain_m\n1,2,3\n",
            Fault("column rain_m", "", "no such column", 'Did you mean "rain_mm"?'),
        ),
        (
            "km,air_c\n1\n",
            Fault("line 2", "", "1 cells under 2 column names", "Give one cell for each column"),
        ),
    ],
)
def test_a_table_of_another_shape_is_explained(text: str, fault: Fault) -> None:
    assert faults_of(text) == [fault]


def test_a_cell_longer_than_any_is_explained() -> None:
    (fault,) = faults_of("km,air_c\n1,2\n" + "3" * 140_000 + ",2\n")
    assert fault.field.startswith("line ")
    assert fault.problem.startswith("this is not a CSV line")


def test_fifty_faults_are_listed_and_the_rest_counted() -> None:
    assert len(faults_of("km,air_c\n" + "x,1\n" * 50)) == 50
    many = faults_of("km,air_c\n" + "x,1\n" * 53)
    assert len(many) == 51
    assert many[-1] == Fault("", "", "3 more faults are not listed", "Mend these first")


def test_a_table_may_be_long_but_not_endless(monkeypatch: pytest.MonkeyPatch) -> None:
    """Three hundred thousand lines are thirty years of hours; the column names are one of them."""
    assert tables.MAX_ROWS == 300_000
    monkeypatch.setattr(tables, "MAX_ROWS", 4)
    assert len(read("km,air_c\n" + "1,1\n" * 3).lines) == 3
    assert faults_of("km,air_c\n" + "1,1\n" * 4)[0].problem == "more than 4 rows"


def test_no_words_are_made_for_good_cells(monkeypatch: pytest.MonkeyPatch) -> None:
    """A weather of a week has fifty thousand of them, and each sentence costs more than the number does."""
    monkeypatch.setattr(tables, "say", lambda key, **gaps: pytest.fail(f"{key} is said"))
    assert read("km,air_c\n1,2\n2,\n").columns["km"].tolist() == [1.0, 2.0]
