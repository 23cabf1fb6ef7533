"""The catalogue itself: what the program asks for is there, with the gaps it hands over, and nothing else is."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from functools import cache

import pytest

from planner.words import catalogue
from planner.words.catalogue import NoSuchWords, entry, source, topics
from tests.sources import every_module, last_name, nodes

OURS = r"\b(draws?|drawn worlds?|worlds|whence|doubts?|marched|temper|disturbed|central|kelvins?)\b"
"""Names the code has for what readers know otherwise; the same list as in tests/test_words.py."""


def keys() -> list[str]:
    return [f"{topic}.{name}" for topic in topics() for name in source(topic)]


def asked() -> Iterator[tuple[str, ast.Call, str]]:
    """Every ``say("topic.key", ...)`` of the program whose key stands in the call."""
    for path in every_module():
        for node in nodes(path):
            if isinstance(node, ast.Call) and last_name(node.func) == "say" and node.args:
                key = node.args[0]
                if isinstance(key, ast.Constant) and re.fullmatch(r"[a-z_]+\.[a-z0-9_]+", str(key.value)):
                    yield str(key.value), node, f"{path.name}:{node.lineno}"


def test_every_sentence_asked_for_is_there_with_the_gaps_it_is_given() -> None:
    wrong = []
    for key, call, where in asked():
        try:
            gaps = entry(key).gaps
        except NoSuchWords as error:
            wrong.append(f"{where}: {error}")
            continue
        given = {keyword.arg for keyword in call.keywords}
        if None not in given and given != gaps:
            wrong.append(f"{where}: {key} has the gaps {sorted(gaps)}, is given {sorted(map(str, given))}")
    assert wrong == []


@cache
def mentioned() -> tuple[frozenset[str], tuple[str, ...]]:
    """Keys that stand somewhere as a text, and the beginnings of keys that are put together from a name."""
    whole, begun = set(), set()
    for path in every_module():
        for node in nodes(path):
            if isinstance(node, ast.JoinedStr) and isinstance(node.values[0], ast.Constant):
                begun.add(str(node.values[0].value))
            elif isinstance(node, ast.Constant) and isinstance(node.value, str):
                whole.add(node.value)
    return frozenset(whole), tuple(
        text for text in begun if re.fullmatch(r"[a-z]+\.[a-z0-9_]*|[a-z_]{4,}", text)
    )


def is_asked_for(key: str) -> bool:
    """By its whole key, or the beginning of it; by its bare name, or its beginning, where a topic is put before."""
    whole, begun = mentioned()
    topic, name = key.split(".")
    beginnings = tuple(text for text in begun if not text.endswith("."))
    put_before = f"{topic}." in begun
    return (
        key in whole
        or key.startswith(beginnings)
        or (put_before and (name in whole or name.startswith(begun)))
    )


def test_every_sentence_is_asked_for() -> None:
    """A sentence nobody says would be translated in vain."""
    assert [key for key in keys() if not is_asked_for(key)] == []


@pytest.mark.parametrize("topic", topics())
def test_a_line_of_the_source_is_whole(topic: str) -> None:
    for name, found in source(topic).items():
        assert re.fullmatch(r"[a-z][a-z0-9_]*", name), name
        for text in (found.one, found.other or found.one):
            assert text.strip() or name.endswith("_sign"), name
            assert text, name
            assert not re.search(r"\{\W|\{\}", text.replace("{{", "").replace("}}", "")), name


@pytest.mark.parametrize("topic", topics())
def test_no_sentence_uses_a_name_of_ours(topic: str) -> None:
    for name, found in source(topic).items():
        assert not re.search(OURS, found.one, re.IGNORECASE), name


def test_a_line_that_is_neither_text_nor_forms_is_refused() -> None:
    with pytest.raises(NoSuchWords, match="must be a text"):
        catalogue._entry("common.wrong", {"one": "a"})
