"""Answers asked for again and again by the tests of the window and of the command line, worked out once a process.

The same inputs have the same answer, and answers are frozen: forty tests that open one trip need one plan of it. What
the use cases answer is tested in their own folder, where nothing is remembered. A test that looks at the working out
itself (how it is stopped, that it comes out the same again) asks for the fixture ``anew``, which makes forgetful.
"""

from __future__ import annotations

import inspect
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import wraps
from typing import Any

import numpy as np
import pytest

from planner.app.advice import helps, water
from planner.app.answer import ask
from planner.app.answer.field import Field
from planner.app.chance import race, sensitivity
from planner.app.fit import fit
from planner.app.plan import plan
from planner.app.season import chart
from planner.app.standing import delays, reserve, tipping
from planner.model.catalogue import Catalogue
from planner.model.records import Road, Weather
from planner.store.chunks import fingerprint

USE_CASES = (
    ask.ask,
    plan.plan_trip,
    plan.curves,
    race.chances,
    sensitivity.sensitivity,
    helps.helps,
    water.water_plan,
    reserve.reserve,
    reserve.sampled_reserve,
    tipping.tipping_at,
    tipping.headroom_along,
    delays.delayed,
    fit.fit,
    chart.worked_out,
)
HOW = ("executor", "on_answer", "on_progress", "should_stop", "now_s")
"""Arguments that say how to work, not what on."""

ANSWERS: dict[str, Any] = {}
PRINTS: dict[int, tuple[Any, str]] = {}
"""Records by their place in memory, held so that no other takes it, and their fingerprints."""
HABITS = {"forgetful": False}


@contextmanager
def forgetful() -> Iterator[None]:
    """Work everything out anew while this lasts."""
    HABITS["forgetful"] = True
    yield
    HABITS["forgetful"] = False


def remember(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let window and command line get answers already worked out in this process."""
    asking = [
        module
        for name, module in list(sys.modules.items())
        if name.startswith(("planner.ui.", "planner.cli.", "planner.app.answer.settled"))
    ]
    for function in USE_CASES:
        once = _every_answer_once(function) if inspect.isgeneratorfunction(function) else _once(function)
        for module in (sys.modules[function.__module__], *asking):
            for name, value in dict(vars(module)).items():
                if value is function:
                    monkeypatch.setattr(module, name, once)


def _key(function: Callable[..., Any], args: tuple[Any, ...], more: dict[str, Any]) -> str:
    """What is asked, the usual values of what is not named among it: the tests of the window ask for fewer samples."""
    given = inspect.signature(function).bind(*args, **more)
    given.apply_defaults()
    what = {name: _print_of(_told(value)) for name, value in given.arguments.items() if name not in HOW}
    return f"{function.__qualname__} {fingerprint(what)}"


def _print_of(value: Any) -> Any:
    """What stands for a frozen record: its fingerprint, taken once as long as the record lives."""
    if not isinstance(value, Catalogue | Road | Weather):
        return value
    if id(value) not in PRINTS:
        PRINTS[id(value)] = value, fingerprint(value)
    return PRINTS[id(value)][1]


def _told(value: Any) -> Any:
    """What stands for an argument: of what is no plain record, all that an answer can take from it."""
    if isinstance(value, np.random.Generator):
        return value.bit_generator.state
    if isinstance(value, Field):
        return value.trip, value.road, value.weathers, value.places, value.most, value.sample
    return value


def _once(function: Callable[..., Any]) -> Callable[..., Any]:
    @wraps(function)
    def asked(*args: Any, **more: Any) -> Any:
        if HABITS["forgetful"]:
            return function(*args, **more)
        key = _key(function, args, more)
        if key not in ANSWERS:
            ANSWERS[key] = function(*args, **more)
        elif more.get("on_progress"):
            more["on_progress"](1.0)
        return ANSWERS[key]

    return asked


def _every_answer_once(function: Callable[..., Any]) -> Callable[..., Iterator[Any]]:
    @wraps(function)
    def asked(*args: Any, **more: Any) -> Iterator[Any]:
        if HABITS["forgetful"]:
            yield from function(*args, **more)
            return
        key = _key(function, args, more)
        if key in ANSWERS:
            yield from ANSWERS[key]
            return
        answers = []
        for answer in function(*args, **more):
            answers.append(answer)
            yield answer
        ANSWERS[key] = tuple(answers)

    return asked
