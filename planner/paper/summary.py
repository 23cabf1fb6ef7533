"""The logbook's summary as PDF: every box of the newest trips in a line, to go with a bundle that is handed on."""

from __future__ import annotations

from planner.app.lessons.summary import Summary
from planner.paper.pdf import Paper, compiled
from planner.paper.spoken import Speaker
from planner.units import METRIC, UnitSystem
from planner.words import Voice, current, sentence

HEADS = ("box", "before", "after", "claim")


def summary_pdf(found: Summary, paper: Paper = "a4", units: UnitSystem = METRIC) -> bytes:
    """As many pages as it takes; the same summary makes the same bytes."""
    speaker = Speaker(Voice(current().language, units), on_paper=True)
    left = sentence("logbook.summary_more", count=found.left_out) if found.left_out else ""
    told = {
        "lang": current().language,
        "title": speaker.said(sentence("logbook.summary_title")),
        "heads": [speaker.said(sentence(f"logbook.summary_{name}")) for name in HEADS],
        "trips": [
            {
                "title": speaker.said(sentence("logbook.page_trip", day=trip.day, title=trip.title)),
                "rows": [
                    [speaker.said(text) for text in (one.box, one.before, one.after, one.claim)]
                    for one in trip.boxes
                ],
            }
            for trip in found.trips
        ],
        "end": [speaker.said(sentence("logbook.summary_chain")), speaker.said(left)],
    }
    return compiled("summary.typ", told, paper)
