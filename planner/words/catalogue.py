"""The catalogue: English sentences by topic and key, and their translations through gettext.

English is the source: ``resources/words/en/TOPIC.toml``, one line a sentence, ``key = "Whole sentence with {gaps}."``;
where a count decides the form, ``key = { one = "{count} box", other = "{count} boxes" }``. A translation is
``resources/words/LANG/TOPIC.po``, compiled to ``.mo`` by ``tools/words.py``; its context is the key and its message the
English text, so that a translation of an English text that has since changed is no longer found, and English is said
instead of something else.
"""

from __future__ import annotations

import gettext
import string
import tomllib
from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path

from planner.bundled import resource_path

SOURCE = "en"
COUNT = "count"
"""The gap that decides between singular and plural."""
MOST_KEPT = 8192
"""Texts whose gaps are remembered: more than the catalogue has in two languages."""
CHECKED = "x-checked-by-native-speaker"
"""The header of a translation that says who of its mother tongue has read it; absent, empty or "no": nobody."""


class NoSuchWords(LookupError):
    """A key or a gap that the catalogue does not have: a fault of ours, never of the user's."""


@dataclass(frozen=True, slots=True)
class Entry:
    """A sentence of the source; ``other`` is None where no count decides its form."""

    one: str
    other: str | None = None

    @property
    def gaps(self) -> frozenset[str]:
        """The names of the gaps, of both forms together; the count is always among those of a plural."""
        return gaps_of(self.one) if self.other is None else _gaps_of_both(self.one, self.other)


@lru_cache(MOST_KEPT)
def _gaps_of_both(one: str, other: str) -> frozenset[str]:
    return gaps_of(one) | gaps_of(other) | {COUNT}


@lru_cache(MOST_KEPT)
def gaps_of(text: str) -> frozenset[str]:
    """The named gaps of a text."""
    return frozenset(name for _, name, _, _ in string.Formatter().parse(text) if name is not None)


def words_folder() -> Path:
    """Where the catalogue lies."""
    return resource_path("words")


@cache
def topics() -> tuple[str, ...]:
    """Every topic of the catalogue."""
    return tuple(sorted(path.stem for path in (words_folder() / SOURCE).glob("*.toml")))


@cache
def source(topic: str) -> dict[str, Entry]:
    """The English sentences of a topic by their key within it.

    Raises
    ------
    NoSuchWords : there is no such topic, or a line of it is neither a text nor a pair of forms
    """
    path = words_folder() / SOURCE / f"{topic}.toml"
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        raise NoSuchWords(f"there is no topic {topic!r} among {', '.join(topics())}") from None
    return {key: _entry(f"{topic}.{key}", found) for key, found in table.items()}


def _entry(key: str, found: object) -> Entry:
    if isinstance(found, str):
        return Entry(found)
    if isinstance(found, dict) and set(found) == {"one", "other"}:
        return Entry(found["one"], found["other"])
    raise NoSuchWords(f"{key} must be a text or a table of one and other")


def entry(key: str) -> Entry:
    """The English sentence of a key such as ``answer.leave``.

    Raises
    ------
    NoSuchWords : the catalogue has no such key
    """
    topic, _, name = key.partition(".")
    try:
        return source(topic)[name]
    except KeyError:
        raise NoSuchWords(f"there is no {key!r} in resources/words/{SOURCE}/{topic}.toml") from None


@cache
def translation(language: str, topic: str) -> gettext.NullTranslations:
    """The compiled translation of a topic; for English, and where there is none, one that hands English back."""
    path = words_folder() / language / f"{topic}.mo"
    if language == SOURCE or not path.is_file():
        return gettext.NullTranslations()
    with path.open("rb") as file:
        return gettext.GNUTranslations(file)


@cache
def languages() -> tuple[str, ...]:
    """The languages there is something in, English first."""
    others = {path.parent.name for path in words_folder().glob("*/*.mo")}
    return (SOURCE, *sorted(others - {SOURCE}))


@cache
def checked(language: str, topic: str) -> bool:
    """Whether somebody whose mother tongue it is has read the translation of a topic; English is the source."""
    if language == SOURCE:
        return True
    said = translation(language, topic).info().get(CHECKED, "")
    return said.strip().lower() not in ("", "no")


def template(language: str, key: str, count: int | None) -> str:
    """The sentence of a key in a language, its gaps still open."""
    found = entry(key)
    spoken = translation(language, key.partition(".")[0])
    if found.other is None:
        return spoken.pgettext(key, found.one)
    return spoken.npgettext(key, found.one, found.other, 0 if count is None else count)


def title(language: str, topic: str, key: str, english: str) -> str:
    """What a row of a bundled table is called in a language; a user's own row is called what its file says."""
    return translation(language, topic).pgettext(f"{topic}.{key}", english)


@lru_cache(MOST_KEPT)
def is_bundled(topic: str, key: str, english: str) -> bool:
    """Whether a title is one of ours, which some language has a name of its own for, and not a user's."""
    return any(title(language, topic, key, english) != english for language in languages())
