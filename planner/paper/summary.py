"""The logbook's summary as PDF: every box of the newest trips in a line, to go with a bundle that is handed on."""

from __future__ import annotations

from planner.app.inspect.records import CheckedBox
from planner.app.lessons.summary import Said, Summary
from planner.app.sheets.parts import joined
from planner.app.sheets.stay import fix_named
from planner.paper.pdf import Paper, compiled
from planner.paper.spoken import Speaker
from planner.units import METRIC, UnitSystem
from planner.words import Voice, minutes, sentence

HEADS = ("box", "before", "after", "claim")


def summary_pdf(
    found: Summary, language: str = "en", paper: Paper = "a4", units: UnitSystem = METRIC
) -> bytes:
    """As many pages as it takes; the same summary makes the same bytes."""
    speaker = Speaker(Voice(language, units), on_paper=True)

    def all_of(*said: Said) -> str:
        return " ".join(speaker.said(one) for one in said)

    told = {
        "lang": language,
        "title": all_of(sentence("summary.title")),
        "heads": [all_of(sentence(f"summary.{name}")) for name in HEADS],
        "trips": [
            {
                "title": all_of(sentence("summary.trip", day=trip.day, title=trip.title)),
                "rows": [
                    [all_of(one.box), all_of(_before(one.before)), all_of(*one.after), all_of(*one.claim)]
                    for one in trip.boxes
                ],
            }
            for trip in found.trips
        ],
        "end": [
            all_of(sentence("summary.chain")),
            all_of(sentence("summary.more", count=found.left_out)) if found.left_out else "",
        ],
    }
    return compiled("summary.typ", told, paper)


def _before(known: CheckedBox | None) -> Said:
    """What the check of a box came to; in the words of then where it is a change that we have no name of."""
    if known is None:
        return ""
    if known.override:
        return sentence("summary.against", reason=known.override)
    if known.outcome in ("released", "held"):
        return sentence(f"summary.{known.outcome}")
    if known.outcome == "released_under" and known.minutes:
        return sentence("summary.under", minutes=minutes(known.minutes))
    if known.outcome in ("", "not_looked"):
        return sentence("summary.unlooked")
    fixes = [fix for name in known.fixes if (fix := fix_named(name))]
    if not fixes or len(fixes) < len(known.fixes):
        return known.said
    return sentence("summary.with", what=joined(fixes))
