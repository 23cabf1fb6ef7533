"""The ranges narrowed by the trade's judgement: one generated file beside the table of parameters.

It is written by ``tools/calibrate.py`` and edited by nobody. Samples take their numbers from it as long as a row of the
table is the one it was made from; a row that a user's catalogue overrides goes back to its own range.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path
from statistics import NormalDist
from typing import Any

import numpy as np

from planner.bundled import resource_path
from planner.model.parameters import ParameterRow, ParameterTable
from planner.model.records import Floats
from planner.store.documents import read_toml, write_text

FILE = "posterior.toml"
MADE_FROM = ("trade_year.toml", "parameters.toml")
"""Tables of ours it is made from; the third thing is how it is made."""

LEAK = "leak"
"""How leaky boxes are beside their catalogue's range, -1..1 of it: the one number that is no row of the table."""

FITTED_WITH_LEAK = "activity_driving"
"""A fit of a user's own log overrides this row wherever it overrides the leak of a box type."""

BEES, ACTIVITY = "bees", "activity"
"""What scatters from load to load and from box to box, with the leak."""

EVENLY = (np.arange(100) + 0.5) / 100.0
SCORES = np.array([NormalDist().inv_cdf(level) for level in EVENLY])
"""Ranks spread evenly, and how many standard deviations from the middle of a bell curve each lies."""

LEVELS = (0.0, 0.005, 0.025, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 0.975, 0.995, 1.0)
"""Shares of sets below the quantiles that are kept."""


@dataclass(frozen=True)
class Narrowed:
    """One number before and after: quantiles at LEVELS; ``made_from`` the value, low and high it was made from."""

    made_from: tuple[float, float, float]
    prior: Floats
    posterior: Floats

    @property
    def range(self) -> tuple[float, float]:
        """Low and high as published: no load or box leaves them."""
        return self.made_from[1], self.made_from[2]

    @property
    def band(self) -> tuple[float, float, float]:
        """What judgement leaves: the mean of the sets between what 5 and 95 of 100 of them lie below.

        The mean and not the middle one, since what the rows do adds up: a box in which every row is at its middle is
        cooler than the middle one of boxes (by some 1.3 K on the bundled trips).
        """
        low, high = np.interp((0.05, 0.95), LEVELS, self.posterior)
        return float(low), float(np.trapezoid(self.posterior, LEVELS)), float(high)


@dataclass(frozen=True)
class Posterior:
    """What the trade's judgement leaves of the ranges.

    ``rows`` by name, in the order of ``correlation`` (row, row), that of their normal scores; ``scatter`` (log
    standard deviation) by which loads and boxes differ beside what is common to all; ``report`` what is told of it.
    """

    made_of: str
    dated: str
    seed: int
    rows: Mapping[str, Narrowed]
    correlation: Floats
    scatter: Mapping[str, float] = field(default_factory=dict)
    report: Mapping[str, Any] = field(default_factory=dict)

    def of_table(self, table: ParameterTable) -> tuple[str, ...]:
        """Names of the rows that still are what this was made from.

        The leak is no row of the table: it goes with the driving activity, which a log of one's own fits together with
        it; what a log has told of both is not to be judged once more.
        """
        own = {
            name
            for name, narrowed in self.rows.items()
            if name in table.rows and _figures(table, name) == narrowed.made_from
        }
        if FITTED_WITH_LEAK in own or FITTED_WITH_LEAK not in self.rows:
            own.add(LEAK)
        return tuple(name for name in self.rows if name in own)

    def believed_of(self, table: ParameterTable) -> dict[str, ParameterRow]:
        """What is left of the table's rows: the mean box as value, 5 and 95 of 100 boxes as ends."""
        return {
            name: replace(table.rows[name], low=low, value=value, high=high)
            for name in self.of_table(table)
            if name in table.rows
            for low, value, high in [self._of_boxes(name)]
        }

    def _of_boxes(self, name: str) -> tuple[float, float, float]:
        """Low, mean and high of boxes: those of the sets, with the scatter of loads and boxes, within the range."""
        row, sd = self.rows[name], self.scatter.get(scatter_of(name), 0.0)
        if sd == 0.0:
            return row.band
        common = np.interp(EVENLY, LEVELS, row.posterior)
        boxes = np.clip(common[:, None] * np.exp(sd * SCORES), *row.range)
        low, high = np.quantile(boxes, (0.05, 0.95))
        return float(low), float(boxes.mean()), float(high)

    def correlation_of(self, names: tuple[str, ...]) -> Floats:
        """(row, row) of some of the rows."""
        at = [list(self.rows).index(name) for name in names]
        return self.correlation[np.ix_(at, at)]


def scatter_of(name: str) -> str:
    """What of a row scatters from load to load and from box to box in the logarithm; nothing of most rows."""
    if name == "frame_bees_factor":
        return BEES
    return ACTIVITY if name.startswith("activity_") else ""


def _figures(table: ParameterTable, name: str) -> tuple[float, float, float]:
    row = table.rows[name]
    return float(row.value), float(row.low), float(row.high)


def fingerprint(*scripts: Path) -> str:
    """What a posterior is made of, in short: the tables and how it is made."""
    digest = hashlib.sha256()
    for path in (*(resource_path(name) for name in MADE_FROM), *scripts):
        digest.update(path.name.encode() + b"\0" + path.read_bytes().replace(b"\r\n", b"\n"))
    return digest.hexdigest()


@cache
def bundled_posterior() -> Posterior | None:
    """The bundled one; None where none has been made. Raises StorageError or InputError when it is damaged."""
    path = resource_path(FILE)
    return read_posterior(path) if path.is_file() else None


def read_posterior(path: Path) -> Posterior:
    """A posterior from its file."""
    draft = read_toml(path, "narrowed ranges")
    rows = {
        name: Narrowed(
            made_from=(table["value"], table["low"], table["high"]),
            prior=np.array(table["prior"], float),
            posterior=np.array(table["posterior"], float),
        )
        for name, table in draft["rows"].items()
    }
    return Posterior(
        made_of=draft["made_of"],
        dated=draft["dated"],
        seed=draft["seed"],
        rows=rows,
        correlation=np.array([table["correlation"] for table in draft["rows"].values()], float),
        scatter=draft["scatter"],
        report=draft["report"],
    )


HEAD = """\
# Ranges narrowed by the trade's judgement. Generated by tools/calibrate.py: do not edit, make it again.
#
# They were narrowed by asking which of them let the loads that keepers move arrive and ruin those they say are ruined.
# That is judgement about dead bees and fallen comb only, leans towards optimism, and says nothing of brood or queens;
# unlike loads fall back on the wide ranges; your own logger counts more.
#
# made_of            of what it is made: the trade's year, the table of parameters, and how it is made
# rows.NAME          value, low, high as they were; quantiles of the number before and after, at the levels
#                    {levels}
#   correlation      with every row in this order, of normal scores
# scatter            log standard deviation of loads and boxes beside what is common to all
# report             what is to be told of it
"""


def write_posterior(found: Posterior, path: Path) -> None:
    """Write it whole. Raises StorageError."""
    lines = [HEAD.format(levels=", ".join(f"{level:g}" for level in LEVELS))]
    lines += [f'made_of = "{found.made_of}"', f'dated = "{found.dated}"', f"seed = {found.seed}", ""]
    for at, (name, row) in enumerate(found.rows.items()):
        value, low, high = row.made_from
        lines += [f"[rows.{name}]", f"value = {value!r}", f"low = {low!r}", f"high = {high!r}"]
        for word, numbers in (
            ("prior", row.prior),
            ("posterior", row.posterior),
            ("correlation", found.correlation[at]),
        ):
            lines.append(f"{word} = [{', '.join(_number(number) for number in numbers)}]")
        lines.append("")
    lines += _tables("scatter", found.scatter) + _tables("report", found.report)
    write_text(path, "\n".join(lines))


def _number(value: float) -> str:
    """Four significant digits, always read back as a number with a point."""
    text = f"{float(value):.4g}"
    return text if any(mark in text for mark in ".en") else f"{text}.0"


def _tables(name: str, table: Mapping[str, Any]) -> list[str]:
    """A table with its tables below it, as lines."""
    plain = {key: value for key, value in table.items() if not isinstance(value, Mapping)}
    lines = [f"[{name}]", *(f"{key} = {_value(value)}" for key, value in plain.items()), ""]
    for key, value in table.items():
        if isinstance(value, Mapping):
            lines += _tables(f"{name}.{key}", value)
    return lines


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f'"{value}"'
    if isinstance(value, list | tuple):
        return f"[{', '.join(map(_value, value))}]"
    return str(value) if isinstance(value, int) else _number(value)
