"""The pages that explain the program: made from tables and kept results, with no figure copied by hand."""

from __future__ import annotations

import ast
import re
from dataclasses import replace
from html import escape
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest

from planner.app.explain.checks import Check, checks_mark, kept_checks
from planner.app.explain.left_out import left_out
from planner.app.explain.model_page import LOST, MADE, STANDS, model_page, name_of
from planner.app.explain.page import Figure, Head, Lines, Page, Table, figure_svg, page_html
from planner.app.explain.trips_page import THIRTY, thirty, trips_page
from planner.app.explain.words import SENTENCES
from planner.app.trade.results import kept_results, made_of, write_results
from planner.app.trade.run import RowResult
from planner.app.trade.table import load_trade_year
from planner.bundled import resource_path
from planner.cli.main import main
from planner.store.catalogue import load_catalogue
from planner.store.documents import read_toml
from planner.store.posterior import LEVELS, Narrowed, Posterior
from planner.units import US

CATALOGUE = load_catalogue()
TABLE = CATALOGUE.parameters
YEAR = load_trade_year(CATALOGUE)
ROOT = Path(__file__).resolve().parents[2]


def some_results() -> list[RowResult]:
    """Results that nobody simulated: ruined by their place in the table."""
    return [
        RowResult(row, 100, at % 101, at % 7, (34.0, 36.0, 37.0 + at % 9), 30.0)
        for at, row in enumerate(YEAR.rows.values())
    ]


def text_of(page: Page) -> str:
    return re.sub(r"<[^>]+>", " ", page_html(page))


# -- thirty trips --------------------------------------------------------------------------------


def test_thirty_trips_are_chosen_of_every_kind() -> None:
    chosen = thirty(YEAR, some_results())
    assert len(chosen) == THIRTY
    assert {result.row.kind.name for result in chosen} == set(YEAR.kinds)
    assert len({result.row.name for result in chosen}) == THIRTY


def test_every_trip_stands_with_what_keepers_say_and_what_we_say() -> None:
    results = some_results()
    page = trips_page(YEAR, results)
    cells = [row for block in page.blocks if isinstance(block, Table) for row in block.rows]
    for result in results:
        row = next(row for row in cells if row[0] == result.row.title)
        assert row[2] == f"ruined: {result.ruined_share:.0%}"
        assert f"{result.row.ruined[1]:.0%}" in row[1]
    chill = [row for row in cells if row[0] == SENTENCES["cell_same"]]
    assert len(chill) == sum(row.chilled is not None for row in YEAR.rows.values())


def test_the_page_speaks_the_readers_units() -> None:
    assert "°F" in text_of(trips_page(YEAR, some_results(), US))
    assert "°C" not in text_of(trips_page(YEAR, some_results(), US))


def test_without_results_the_page_says_how_to_get_them() -> None:
    assert trips_page(YEAR, []).lead == SENTENCES["trips_none"]


def test_results_are_kept_and_read_back(tmp_path: Path) -> None:
    results = some_results()
    write_results(results, 1, "2026-11-26", tmp_path / "kept.toml")
    assert list(kept_results(YEAR, tmp_path / "kept.toml")) == results
    assert read_toml(tmp_path / "kept.toml", "results")["made_of"] == made_of()


def test_the_results_kept_are_of_the_tables_as_they_stand() -> None:
    """Stale: run ``python tools/trade_results.py``."""
    path = resource_path("trade_results.toml")
    if not path.is_file():
        pytest.skip("none are kept")
    assert read_toml(path, "results")["made_of"] == made_of()
    assert [result.row.name for result in kept_results(YEAR)] == list(YEAR.rows)


# -- the model -----------------------------------------------------------------------------------


CHECKS = (Check("test_a", "H1. A comb.", True), Check("test_b", "H2. A cluster.", False, "2 K off"))


def model(posterior: Posterior | None = None, checks=CHECKS) -> Page:
    return model_page(TABLE, YEAR, posterior, checks)


def test_the_drawing_names_only_rows_of_the_table() -> None:
    assert {*MADE, *LOST, *STANDS} <= set(TABLE.rows)


def test_every_term_of_the_drawing_has_words_of_its_own() -> None:
    assert [name for name in (*MADE, *LOST, *STANDS) if f"term_{name}" not in SENTENCES] == []


def test_every_number_of_the_model_stands_with_range_grade_and_source() -> None:
    cells = [row for block in model().blocks if isinstance(block, Table) for row in block.rows]
    for row in TABLE.rows.values():
        assert any(cell[0] == name_of(row.name) and cell[2:] == (row.grade, row.source) for cell in cells)


def test_a_changed_number_changes_the_page() -> None:
    row = TABLE.rows["activity_driving"]
    table = type(TABLE)({**TABLE.rows, row.name: replace(row, value=2.345)})
    assert "2.345" in text_of(model_page(table, YEAR, None, CHECKS))
    assert "2.345" not in text_of(model())


def test_the_drawing_is_a_picture_with_every_term_and_grade() -> None:
    figure = next(block for block in model().blocks if isinstance(block, Figure))
    svg = figure_svg(figure)
    words = " ".join(ElementTree.fromstring(svg).itertext())
    for name in MADE:
        assert name_of(name) in words
    assert "7.7 W/kg (B)" in words


def test_checks_missed_come_first_with_their_reason() -> None:
    table = next(b for b in model().blocks if isinstance(b, Table) and b.heads[0] == SENTENCES["head_check"])
    assert table.rows[0] == ("H2. A cluster.", "missed: 2 K off")
    assert table.marks == ("fails", "holds")


def test_before_any_narrowing_the_page_says_so() -> None:
    assert SENTENCES["narrowed_none"] in text_of(model()).replace("&#x27;", "'")


def narrowed_once() -> Posterior:
    spread = np.array(LEVELS)
    row = TABLE.rows["activity_driving"]
    rows = {"activity_driving": Narrowed((row.value, row.low, row.high), 1.3 + 2.2 * spread, 1.4 + spread)}
    report = {
        "effective_share": 0.0612,
        "top_hundredth": 0.17,
        "exponent": 0.83,
        "left_out": {"cold": 0.1, "swarm": 0.4},
        "rules": {"spread_doubled": 0.3},
        "products": {"heat_driving": {"prior": [0.5, 1.0, 2.0], "posterior": [0.6, 0.8, 1.1]}},
        **{
            f"{which}_{what}": count
            for which in ("fitted", "held_out")
            for what, count in (("rows", 15), ("inside", 9), ("covered", 14))
        },
    }
    return Posterior("x", "2026-11-26", 1, rows, np.eye(1), {}, report)


def test_what_judgement_leaves_is_told_with_its_worth() -> None:
    text = text_of(model(narrowed_once()))
    for said in (
        "6% of the sets",
        "17% of the weight",
        "exponent of 0.83",
        "swarms and skeps",
        "0.60 to 1.10",
    ):
        assert said in text
    assert SENTENCES["narrowed_what"] in text


def test_before_and_after_are_drawn_side_by_side() -> None:
    figures = [block for block in model(narrowed_once()).blocks if isinstance(block, Figure)]
    assert len(figures) == 2
    bars = re.findall(r"<rect x='([\d.]+)' y='[\d.]+' width='([\d.]+)' height='9.0'", figure_svg(figures[1]))
    before, after = (float(width) for _, width in bars[:2])
    assert before / after == pytest.approx(2.2, rel=0.01)


CHECK_FILES = sorted((ROOT / "tests" / "model").glob("test_checks_*.py"))


def test_the_checks_kept_are_those_there_are_and_of_the_numbers_as_they_stand() -> None:
    """Stale: run ``python tools/tell_checks.py``."""
    there = {
        node.name
        for path in CHECK_FILES
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.FunctionDef) and node.name.startswith("test_")
    }
    assert {check.name for check in kept_checks()} == there
    assert read_toml(resource_path("checks.toml"), "checks")["made_of"] == checks_mark(CHECK_FILES)


def test_a_check_that_is_missed_says_why() -> None:
    missed = [check for check in kept_checks() if not check.met]
    assert all(len(check.reason) > 20 for check in missed)
    assert 0 < len(missed) < 0.1 * len(kept_checks())


def test_what_is_left_out_stands_on_the_page_with_its_worth() -> None:
    """Every row names kelvin, a direction and a reason; all are told."""
    rows = left_out()
    text = text_of(model())
    assert len(rows) >= 5
    for row in rows:
        assert 0.0 <= row.least_k <= row.most_k
        assert escape(row.what) in text
        assert escape(row.why) in text


# -- as files ------------------------------------------------------------------------------------


def test_a_page_in_html_needs_nothing_from_outside() -> None:
    html = page_html(Page("A & B", "Lead <b>", (Head("H"), Lines(("one",)), Table(("a",), (("<x>",),)))))
    assert "A &amp; B" in html
    assert "Lead &lt;b&gt;" in html
    assert "&lt;x&gt;" in html
    assert not re.search(r"(?:src|href)=", html)


def test_the_command_writes_both_pages(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["explain", str(tmp_path / "new" / "pages")]) == 0
    written = sorted(path.name for path in (tmp_path / "new" / "pages").iterdir())
    assert written == ["common-trips.html", "model.html"]
    assert "Wrote" in capsys.readouterr().err
