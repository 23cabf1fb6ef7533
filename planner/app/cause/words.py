"""What may have happened to a box, in words: what agrees, how well anything fits, what would settle it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from planner.app.cause.evidence import form
from planner.app.cause.weigh import Weighed, Weighing
from planner.words import say

MOST_STORIES = 5
LEAST_SHOWN = 0.02
ALIKE = 0.7
"""A second story with so much of the first one's share is named beside it."""


@dataclass(frozen=True)
class CauseWords:
    """The answer first, the stories with what speaks for and against each, what would settle it, cautions."""

    headline: str
    stories: tuple[str, ...]
    settles: tuple[str, ...]
    cautions: tuple[str, ...]


def in_words(box: str, found: Weighing) -> CauseWords:
    """Put a weighing into words."""
    shown = [one for one in found.stories[:MOST_STORIES] if one.share >= LEAST_SHOWN]
    lines = [line for one in shown for line in _lines(one)]
    settles = (say("cause.settles", lines=_titles(found.settles)),) if found.settles else ()
    return CauseWords(
        headline=_headline(box, found),
        stories=(*lines, say("cause.none_line", share=_of_100(found.none_share))),
        settles=settles,
        cautions=(say("cause.caution_grade"), say("cause.caution_position")),
    )


def story_title(name: str) -> str:
    """A story's name for people."""
    return say(f"cause.story_{name}")


def _headline(box: str, found: Weighing) -> str:
    if not found.evidence:
        return say("cause.nothing_found", box=box)
    first = found.stories[0]
    if not found.explained:
        return say("cause.not_explained", box=box, story=story_title(first.name), fit=_of_100(first.fits))
    if not found.can_tell:
        return say("cause.cannot_tell", box=box)
    second = found.stories[1]
    if second.share >= ALIKE * first.share:
        return say(
            "cause.headline_two",
            box=box,
            first=story_title(first.name),
            share=_of_100(first.share),
            second=story_title(second.name),
            other=_of_100(second.share),
        )
    return say("cause.headline", box=box, story=story_title(first.name), share=_of_100(first.share))


def _lines(one: Weighed) -> list[str]:
    title = story_title(one.name)
    lines = [say("cause.line", story=title, share=_of_100(one.share), fit=_of_100(one.fits))]
    if one.agrees:
        lines.append(say("cause.agrees", lines=_titles(one.agrees)))
    if one.disagrees:
        lines.append(say("cause.disagrees", lines=_titles(one.disagrees)))
    return lines


def _titles(names: tuple[str, ...]) -> str:
    return ", ".join(form()[name].title for name in names)


def _of_100(share: float) -> int:
    return round(100.0 * share)


def as_document(box: str, found: Weighing, said: CauseWords) -> dict[str, Any]:
    """A weighing for machines and for the logbook."""
    return {
        "skepway_cause": 1,
        "box": box,
        "text": said.headline,
        "explained": found.explained,
        "effective": round(found.effective, 1),
        "none_share": round(found.none_share, 4),
        "stories": {
            one.name: {"share": round(one.share, 4), "fits": round(one.fits, 4)} for one in found.stories
        },
        "evidence": dict(found.evidence),
        "settles": list(found.settles),
    }
