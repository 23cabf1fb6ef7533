"""What was found after a loss: a form in which every line may stay empty."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache

from planner.app.inspect.typed import each_typed
from planner.bundled import resource_path
from planner.errors import Fault, InputError
from planner.store.schema import did_you_mean
from planner.words import say

Value = str | float
Evidence = Mapping[str, Value]


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the form: the ``answers`` there are, or a figure between ``low`` and ``high`` known to ``spread``."""

    name: str
    answers: tuple[str, ...] = ()
    low: float = 0.0
    high: float = 0.0
    spread: float = 0.0

    @property
    def title(self) -> str:
        return say(f"cause.line_{self.name}")


@cache
def form() -> Mapping[str, Line]:
    """The lines of the form in the order in which a box is taken apart."""
    table = tomllib.loads(resource_path("evidence.toml").read_text("utf-8"))
    return {name: Line(name, tuple(row.pop("answers", ())), **row) for name, row in table.items()}


def evidence_of(words: Sequence[str]) -> dict[str, Value]:
    """Evidence as it is typed, ``combs=most mesh=90``. Raises InputError with every fault."""
    return each_typed(words, value_of)


def value_of(name: str, text: Value) -> Value:
    """One answer, looked at. Raises InputError."""
    line = form().get(name)
    if line is None:
        raise InputError([Fault("evidence", name, say("cause.no_line"), did_you_mean(name, tuple(form())))])
    if line.answers:
        if text not in line.answers:
            remedy = say("cause.give_answer", answers=", ".join(line.answers))
            raise InputError([Fault(name, str(text), say("cause.no_answer"), remedy)])
        return text
    try:
        figure = float(text)
    except ValueError:
        figure = math.nan
    if not line.low <= figure <= line.high:
        remedy = say("cause.give_figure", low=f"{line.low:g}", high=f"{line.high:g}")
        raise InputError([Fault(name, str(text), say("cause.no_answer"), remedy)])
    return figure
