"""The words of the program: every sentence anybody is shown, by key, in the reader's language and units.

``say("answer.leave", time=..., place=...)`` gives the sentence ``leave`` of ``resources/words/en/answer.toml``, or its
translation, with its gaps filled. To add a sentence, add a line to the file of its topic.
"""

from __future__ import annotations

from planner.words.quantities import (
    Moment,
    Quantity,
    Sentence,
    Stretch,
    Title,
    distance,
    duration,
    height,
    mass,
    minutes,
    sentence,
    share,
    speed,
    step,
    temp,
    volume,
    watts,
)
from planner.words.voice import Voice, current, languages, say, set_voice, speaking, text

__all__ = [
    "Moment",
    "Quantity",
    "Sentence",
    "Stretch",
    "Title",
    "Voice",
    "current",
    "distance",
    "duration",
    "height",
    "languages",
    "mass",
    "minutes",
    "say",
    "sentence",
    "set_voice",
    "share",
    "speaking",
    "speed",
    "step",
    "temp",
    "text",
    "volume",
    "watts",
]
