"""What a sheet says of titles, marks and cuts: ours whole and in the reader's language, a user's made fit."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.app.sheets.drive import driver_sheet
from planner.app.sheets.records import LongText
from planner.model.catalogue import Catalogue
from planner.paper.clean import CUT
from planner.paper.pdf import SHORTER
from planner.paper.spoken import Speaker, spoken
from planner.store.catalogue import load_catalogue
from planner.units import METRIC
from planner.words import Title, Voice, languages, speaking
from tests.paper.made import facts


@pytest.fixture(scope="module")
def bundled() -> Catalogue:
    return load_catalogue()


@pytest.mark.parametrize("language", languages()[1:])
def test_our_titles_stay_whole_and_translated_however_full_the_side_is(
    language: str, bundled: Catalogue
) -> None:
    """An English title that was cut is found in no other language any more."""
    speaker = Speaker(Voice(language), on_paper=True, most=SHORTER[-1])
    for name, place in bundled.loading_places.items():
        told = Title("places", name, place.title)
        assert speaker.said(told) == Voice(language).text(told)
        for text in place.cautions:
            said = speaker.said(Title("cautions", "", LongText(text)))
            assert said == Voice(language).text(Title("cautions", "", text))
            assert said != text
    assert not speaker.cut


def test_a_title_of_a_user_is_cut_and_a_caution_of_theirs_is_not() -> None:
    speaker = Speaker(Voice("de"), on_paper=True, most=20)
    assert speaker.said(Title("places", "mine", "The row behind the cab of my own lorry")).endswith(CUT)
    caution = "Do not open the left door: the bolt of the lower row hangs on it and takes two boxes with it"
    assert speaker.said(Title("cautions", "", LongText(caution))) == caution


def test_who_prints_reads_the_remarks_and_the_reader_finds_them_on_the_sheet() -> None:
    """A Polish sheet tells its English printer in English that a name was cut."""
    sheet = driver_sheet(replace(facts(), origin="Oak Farm " * 20), "pl")
    with speaking(Voice("en")):
        told = spoken(sheet, METRIC, on_paper=True)
    (remark,) = told["remarks"]
    assert remark == Voice("en").say("sheets.remark_cut", mark=CUT)
    assert Voice("pl").say("sheets.remark_cut", mark=CUT) in told["proof"]
