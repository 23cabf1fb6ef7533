"""Reports: machine formats that read back, pages that escape what users write, pictures that are well formed."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest
from planner.app.plan.documents import as_csv, as_document, as_html

from planner.app.common.chart import Tile
from planner.app.common.svg import PAPER
from planner.app.plan.pictures import board_chart, board_svg, curves_svg
from planner.app.plan.plan import curves
from planner.app.plan.results import Choice, Plan
from planner.app.plan.words import answer
from planner.model.catalogue import Catalogue


def test_json_holds_every_candidate_and_no_nan(plan: Plan, catalogue: Catalogue) -> None:
    document = json.loads(json.dumps(as_document(plan, answer(plan, catalogue)), allow_nan=False))
    assert len(document["candidates"]) == len(plan.ranking)
    best = document["candidates"][0]
    assert best["place"] == plan.loading_places[plan.ranking[0].loading_place]
    assert best["peak_core_c"] == pytest.approx(plan.peak_c(plan.ranking[0])[1], abs=1e-3)


def test_csv_reads_back_in_ranked_order(plan: Plan) -> None:
    rows = list(csv.DictReader(io.StringIO(as_csv(plan))))
    assert len(rows) == len(plan.ranking)
    assert [row["setup"] for row in rows[:5]] == [plan.setups[c.setup] for c in plan.ranking[:5]]


def test_a_title_cannot_break_the_page(plan: Plan, catalogue: Catalogue) -> None:
    nasty = replace(plan, trip=replace(plan.trip, title="<script>alert(1)</script>"))
    page = as_html(nasty, answer(nasty, catalogue), curves(nasty, nasty.ranking[0], catalogue))
    assert "<script>" not in page
    assert "&lt;script&gt;" in page


def test_the_page_carries_answer_cautions_and_signs(plan: Plan, catalogue: Catalogue) -> None:
    said = answer(plan, catalogue)
    page = as_html(plan, said, curves(plan, said.choice, catalogue))
    for text in ("never permission", "collapse, not relief", "How sure"):
        assert text in page


def test_pictures_are_well_formed_and_mark_the_choice(plan: Plan, catalogue: Catalogue) -> None:
    choice = plan.ranking[0]
    board = ElementTree.fromstring(board_svg(plan, choice))
    assert sum(1 for e in board.iter() if e.get("stroke-width") == "2.4") == 1
    sampled = ElementTree.fromstring(curves_svg(plan, curves(plan, choice, catalogue)))
    assert any(e.tag.endswith("polygon") for e in sampled.iter())


def test_unknown_temperatures_are_grey_not_cold(plan: Plan) -> None:
    peaks = np.full_like(plan.outcomes.peak_core_c, np.nan)
    verdict = np.full_like(plan.outcomes.verdict, 3)
    lost = replace(plan, outcomes=replace(plan.outcomes, peak_core_c=peaks, verdict=verdict))
    tiles = [
        mark for mark in board_chart(lost, Choice(0, 0, 0), np.zeros(10)).marks if isinstance(mark, Tile)
    ]
    assert len(tiles) == plan.departures_s.size * len(plan.loading_places)
    assert {(tile.fill, tile.sign) for tile in tiles} == {("unknown", "unknown")}
    assert PAPER["unknown"] in board_svg(lost, Choice(0, 0, 0))
