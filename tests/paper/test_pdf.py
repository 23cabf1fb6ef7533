"""Sheets on paper: one side, nothing clipped, every number there, large enough, tagged, black on white."""

from __future__ import annotations

import io
import re
from collections import Counter
from dataclasses import replace
from functools import cache
from itertools import product

import pikepdf
import pypdf
import pytest

from planner.app.inspect.photos import boxes_seen
from planner.app.sheets.drive import buyer_sheet, driver_sheet
from planner.app.sheets.facts import TripFacts
from planner.app.sheets.records import SAFETY, Sheet, values_in
from planner.app.sheets.stay import receipt_sheet, receiver_sheet, yard_sheet
from planner.app.sheets.stuck import labels
from planner.paper.clean import SOFT_HYPHEN
from planner.paper.pdf import SHORTER, NoRoom, Paper, Printed, labels_pdf, labels_png, sheet_pdf
from planner.paper.spoken import Speaker
from planner.store.photofile import grey
from planner.units import METRIC, US, UnitSystem
from planner.words import Sentence, Title, Voice, languages
from tests.paper.made import BUYER, facts, people, random_facts, without_figures

SIZES_PT = {"a4": (595.28, 841.89), "letter": (612.0, 792.0)}
"""ISO 216: 210 x 297 mm; ANSI/ASME Y14.1: 8.5 x 11 in."""
LEAST_BODY_PT, LEAST_FIGURE_PT = 9.5, 24.0


def sheets_of(trip: TripFacts, language: str = "en") -> list[Sheet]:
    """One sheet of each kind."""
    return [
        driver_sheet(trip, language),
        buyer_sheet(trip, BUYER, language),
        receiver_sheet(trip, language),
        yard_sheet(trip, people(12), language),
        receipt_sheet(trip, BUYER, language),
    ]


@cache
def usual(kind: str, paper: Paper = "a4", language: str = "en") -> tuple[Sheet, Printed]:
    """A sheet of the usual trip with its print."""
    sheet = next(sheet for sheet in sheets_of(facts(), language) if sheet.kind == kind)
    return sheet, sheet_pdf(sheet, paper)


def text_of(data: bytes) -> str:
    """The text of a PDF in one line, words that were broken put together again."""
    read = "\n".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(data)).pages)
    return flat(read)


def flat(text: str) -> str:
    return re.sub(r"\s+", "", text.replace(SOFT_HYPHEN, "").replace("\u00a0", " "))


def runs_of(data: bytes) -> list[tuple[str, float, float, float]]:
    """Every run of text: itself, its size in pt, where it begins."""
    found: list[tuple[str, float, float, float]] = []

    def visit(text: str, user: list[float], matrix: list[float], _font: object, size: float) -> None:
        if text.strip():
            scale = abs(user[0] * matrix[0]) or abs(user[1] * matrix[1])
            x = user[0] * matrix[4] + user[2] * matrix[5] + user[4]
            y = user[1] * matrix[4] + user[3] * matrix[5] + user[5]
            found.append((text, size * scale, x, y))

    for page in pypdf.PdfReader(io.BytesIO(data)).pages:
        page.extract_text(visitor_text=visit)
    return found


def assert_sound(sheet: Sheet, printed: Printed, paper: Paper, units: UnitSystem = METRIC) -> None:
    """What holds of every sheet on paper."""
    reader = pypdf.PdfReader(io.BytesIO(printed.data))
    where = f"{sheet.kind} {sheet.language} {paper}"
    assert len(reader.pages) == 1, where
    width, height = SIZES_PT[paper]
    box = reader.pages[0].mediabox
    assert (float(box.width), float(box.height)) == pytest.approx((width, height), abs=0.5), where
    runs = runs_of(printed.data)
    assert min(size for _, size, _, _ in runs) >= LEAST_BODY_PT - 0.01, where
    assert all(20.0 < x < width - 20.0 and 20.0 < y < height - 20.0 for _, _, x, y in runs), where
    text = text_of(printed.data)
    voice = Voice(sheet.language, units)
    if not printed.dropped:
        for cell in sheet.cells():
            for value in values_in(cell):
                assert flat(voice.text(value)) in text, (where, value)
    for figure in sheet.figures:
        value = flat(voice.text(figure.value))
        assert any(value in flat(run) and size >= LEAST_FIGURE_PT for run, size, _, _ in runs), (where, value)


@pytest.mark.parametrize("kind", ["driver", "buyer", "receiver", "yard", "receipt"])
def test_a_sheet_of_each_kind_is_sound(kind: str) -> None:
    sheet, printed = usual(kind)
    assert_sound(sheet, printed, "a4")


@pytest.mark.parametrize("seed", range(6))
def test_random_trips_fit_one_side(seed: int) -> None:
    """Six of the two hundred."""
    language = languages()[seed % len(languages())]
    paper: Paper = ("a4", "letter")[seed % 2]  # type: ignore[assignment]
    trip = random_facts(seed)
    sheet = sheets_of(trip, language)[seed % 5]
    assert_sound(sheet, sheet_pdf(sheet, paper), paper)


def without_room(sheet: Sheet, printed: Printed) -> list[str]:
    """The rows of safety that are not on the paper: all that are worth as much as a strap."""
    text = text_of(printed.data).replace("--", "-")  # Polish repeats a hyphen that a line ends with
    speakers = [Speaker(Voice(sheet.language), on_paper=True, most=most) for most in SHORTER]
    rows = [row for block in sheet.blocks if block.rank < 3 for row in block.rows if row.keep >= SAFETY]
    cells = [cell for row in rows for cell in row.cells if isinstance(cell, Sentence)]
    return [
        speakers[0].said(cell)
        for cell in cells
        if not any(
            flat(speaker.said(cell)) in text for speaker in speakers
        )  # with users' texts whole, or cut
    ]


@pytest.mark.parametrize("seed", [0, 1])
def test_rows_of_safety_are_the_same_in_every_language(seed: int) -> None:
    """Full trips. The straps were left out in five languages and not in English: English stands beside what is not
    checked, and takes a third of the side."""
    for language in languages():
        sheet = sheets_of(random_facts(seed), language)[0]
        assert without_room(sheet, sheet_pdf(sheet)) == [], language


def test_who_prints_and_who_reads_know_that_something_had_no_room() -> None:
    sheet = sheets_of(random_facts(10), "de")[0]
    printed = sheet_pdf(sheet)
    assert printed.dropped
    assert any("Not all lines" in remark for remark in printed.remarks)
    assert flat(Voice("de").say("sheets.less")) in text_of(printed.data)
    assert not any("Not all lines" in remark for remark in usual("driver")[1].remarks)


@pytest.mark.slow
def test_rows_of_safety_are_the_same_in_every_language_on_a_hundred_trips() -> None:
    """However full: they go after all else that may, lists and the length of texts too. Three of sixty lacked some."""
    papers: tuple[Paper, ...] = ("a4", "letter")
    short = {
        seed
        for seed, language in product(range(100), languages())
        if without_room(
            sheet := sheets_of(random_facts(seed), language)[seed % 5], sheet_pdf(sheet, papers[seed % 2])
        )
    }
    assert short == set()


@pytest.mark.hour
@pytest.mark.slow
@pytest.mark.timeout(7200)
@pytest.mark.parametrize("language", languages())
def test_two_hundred_random_trips_fit_one_side_in_every_language(language: str) -> None:
    paper: Paper
    for seed, paper in product(range(200), ("a4", "letter")):
        units = US if paper == "letter" and language == "en" else METRIC
        sheet = sheets_of(random_facts(seed), language)[seed % 5]
        assert_sound(sheet, sheet_pdf(sheet, paper, units), paper, units)


def test_us_units_reach_the_paper() -> None:
    sheet, _ = usual("driver")
    text = text_of(sheet_pdf(sheet, "letter", US).data)
    assert flat("239 mi") in text
    assert "km" not in text


@pytest.mark.parametrize("make", [driver_sheet, receiver_sheet])
def test_a_trip_not_to_be_made_says_so_and_gives_no_times(make) -> None:
    sheet = make(without_figures(), "en")
    text = text_of(sheet_pdf(sheet).data)
    assert "DONOTGO" in text
    assert sheet.figures == ()
    printed = flat(Voice().text(sheet.head.proof[0]))
    assert not re.search(
        r"\d\d:\d\d", text.replace(printed, "").replace(flat(Voice().text(sheet.head.proof[1])), "")
    )


def test_eighty_people_find_room_on_the_yard_sheet() -> None:
    sheet = yard_sheet(facts(), people(80), "en")
    printed = sheet_pdf(sheet)
    assert "people" not in printed.dropped
    assert flat("Buyer 80 of Ash Lane") in text_of(printed.data)


def test_long_names_of_groups_leave_room_for_where_they_ride() -> None:
    """Of two columns neither is pushed off the paper."""
    label = "Strong hives in the outer row, eleven frames of bees"
    places = (Title("places", "", "L'Isle-Jourdain"), Title("places", "", "Oak Farm"))
    two = tuple(replace(facts().groups[0], label=label, count=96, place=place) for place in places)
    sheet = yard_sheet(facts(groups=two), people(3), "pl")
    assert_sound(sheet, sheet_pdf(sheet), "a4")


def test_too_many_people_are_counted() -> None:
    printed = sheet_pdf(yard_sheet(facts(), people(300), "en"))
    text = text_of(printed.data)
    assert "people" in printed.dropped
    (more,) = re.findall(r"and(\d+)more", text)
    shown = len(re.findall(r"Buyer\d+of", text))
    assert shown + int(more) == 300
    assert shown > 60


def test_a_block_without_room_is_named() -> None:
    groups = tuple(facts().groups[0] for _ in range(80))
    with pytest.raises(NoRoom, match="Boxes"):
        sheet_pdf(receipt_sheet(facts(groups=groups), None, "en"))


def test_a_sheet_like_another_looks_like_it() -> None:
    """Sheets of one printing take over how the first found room, and search where that does not hold."""
    first = sheet_pdf(buyer_sheet(facts(), people(1)[0], "en"))
    again = sheet_pdf(buyer_sheet(facts(), people(2)[1], "en"), like=first.fit)
    assert again.fit == first.fit
    sheet = yard_sheet(facts(), people(80), "en")
    assert sheet_pdf(sheet, like=sheet_pdf(yard_sheet(facts(), (), "en")).fit).fit == sheet_pdf(sheet).fit


def test_a_pdf_is_tagged_and_declares_its_standards() -> None:
    """PDF/A-2a and PDF/UA-1 are declared in the metadata; no full validator is at hand, so "declares"."""
    _, printed = usual("driver")
    with pikepdf.open(io.BytesIO(printed.data)) as document:
        assert document.Root.MarkInfo.Marked
        assert "/StructTreeRoot" in document.Root
        assert str(document.Root.Lang) == "en"
        kinds: Counter[str] = Counter()
        _count(document.Root.StructTreeRoot, kinds)
        meta = document.open_metadata()
        assert (meta["pdfaid:part"], meta["pdfaid:conformance"]) == ("2", "A")
        assert meta["pdfuaid:part"] == "1"
    assert kinds["/H1"] == 1
    assert kinds["/Table"] >= 3
    assert kinds["/TH"] > 5
    assert kinds["/LI"] > 10


def _count(node: pikepdf.Object, kinds: Counter[str]) -> None:
    if isinstance(node, pikepdf.Array):
        for inner in node:
            _count(inner, kinds)
    elif isinstance(node, pikepdf.Dictionary):
        if "/S" in node:
            kinds[str(node.S)] += 1
        if "/K" in node:
            _count(node.K, kinds)


def test_only_our_fonts_are_embedded() -> None:
    """System fonts are switched off: the same sheet on every machine."""
    for kind in ("driver", "yard"):
        with pikepdf.open(io.BytesIO(usual(kind)[1].data)) as document:
            fonts = document.pages[0].Resources.Font
            names = {str(fonts[key].BaseFont).split("+")[1] for key in fonts}
        assert names <= {"NotoSans-Regular", "NotoSans-Bold"}


def test_ink_is_black_on_white_or_white_on_black() -> None:
    """Readable by a red torch and in grey print: no other colour is set, so that every text has a contrast of 21."""
    for data in (usual("driver")[1].data, sheet_pdf(driver_sheet(without_figures(), "en")).data):
        with pikepdf.open(io.BytesIO(data)) as document:
            for operands, operator in pikepdf.parse_content_stream(document.pages[0]):
                if str(operator) in ("sc", "scn", "SC", "SCN", "g", "G", "rg", "RG", "k", "K"):
                    numbers = [float(value) for value in operands if not isinstance(value, pikepdf.Name)]
                    assert set(numbers) <= {0.0} or set(numbers) <= {1.0}, (str(operator), numbers)


def test_every_box_has_a_label() -> None:
    trip = facts()
    made = labels(trip)
    data = labels_pdf(made, "en").data
    text = text_of(data)
    assert len(made) == trip.boxes
    assert len({label.box for label in made}) == trip.boxes
    assert all(label.box in text for label in made)


def test_the_codes_on_labels_are_read_back_as_the_boxes_they_are_stuck_on() -> None:
    """Printed, photographed, read: by the reader that sorts photos to boxes."""
    made = labels(facts())[:6]
    page = labels_png(made, "en", ppi=130.0)
    assert set(boxes_seen(grey(page, "labels.png"))) == {label.box for label in made}
