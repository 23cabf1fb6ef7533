"""From a published JSON Schema and a document to faults a person can act on, all of them at once."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Iterator
from difflib import get_close_matches
from functools import cache
from itertools import islice
from typing import Any, NamedTuple

from jsonschema import Draft202012Validator
from jsonschema.exceptions import ValidationError
from jsonschema.protocols import Validator
from jsonschema.validators import extend

from planner.bundled import resource_path
from planner.errors import Fault
from planner.store.documents import Document
from planner.words import say

MAX_FAULTS = 100
MAX_SHOWN = 60
MAX_DEPTH = 24
MAX_NAMES = 20_000
MAX_ERRORS = 5_000
"""So many broken rules are looked at: whoever broke more has another kind of file."""

Path = tuple[str | int, ...]


@cache
def schema(name: str) -> Document:
    """A bundled schema by file name."""
    loaded: Document = json.loads(resource_path(name).read_text("utf-8"))
    return loaded


@cache
def deprecated(name: str) -> frozenset[str]:
    """Names a schema lets pass although nothing reads them any more: older files open for ever."""
    return frozenset(key for key, rule in _properties(schema(name)) if rule.get("deprecated"))


def _properties(node: Any) -> Iterator[tuple[str, Document]]:
    """Every property of a schema by name, at any depth."""
    if isinstance(node, dict):
        yield from node.get("properties", {}).items()
    if isinstance(node, dict | list):
        for inner in node.values() if isinstance(node, dict) else node:
            yield from _properties(inner)


def schema_faults(document: Document, name: str) -> list[Fault]:
    """Every way in which the document breaks the schema, at most MAX_FAULTS, in document order."""
    if _too_deep(document):
        return [Fault("", "", "the tables are nested too deep", "Take the surplus brackets out")]
    if (names := _names_in(document)) > MAX_NAMES:
        return [Fault("", "", say("files.too_many_names", names=str(names)), "Take the surplus out")]
    found = islice(_validator(name).iter_errors(document), MAX_ERRORS)
    errors = sorted(found, key=lambda error: [str(at) for at in error.path])
    faults = list(dict.fromkeys(fault for error in errors for fault in _explain(_broken(error))))
    faults += [
        Fault(field_name(path), str(value), "this is not a finite number", "Enter an ordinary number")
        for path, value in _not_finite(document)
    ]
    return _capped(faults, whole=len(errors) < MAX_ERRORS)


def field_name(path: Iterable[str | int]) -> str:
    """A path as people read it: ``load[2].frames_of_bees``; numbers count from 0."""
    text = ""
    for part in path:
        text += f"[{part}]" if isinstance(part, int) else f".{part}" if text else str(part)
    return text


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known name most like a word, if any is like it."""
    matches = get_close_matches(word.lower()[:80], list(known), n=1, cutoff=0.5)
    return matches[0] if matches else None


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """A remedy naming the nearest known name, or all names when none is near."""
    names = sorted(known)
    near = nearest(word, names)
    if near:
        return say("files.did_you_mean", near=str(near))
    return "Choose one of " + ", ".join(names[:40]) + (" ..." if len(names) > 40 else "")


def shown(value: object) -> str:
    """A value short enough to stand in a message."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int) and abs(value) > 10**20:
        return "a very long number"
    text = repr(value) if isinstance(value, dict | list) else str(value)
    return text if len(text) <= MAX_SHOWN else text[: MAX_SHOWN - 3] + "..."


PLAIN = frozenset({"type", "minimum", "maximum", "minItems", "maxItems", "items", "description", "x-remedy"})
"""The rules of a list of numbers, or of lists of them: what a road of twenty thousand points is made of."""


def _plainly_fits(value: Any, rule: Document) -> bool:
    """Whether a number, or a list of such, keeps its rule; False also where this cannot tell."""
    if not rule.keys() <= PLAIN:
        return False
    if rule.get("type") == "number":
        low, high = rule.get("minimum", -math.inf), rule.get("maximum", math.inf)
        return type(value) in (int, float) and bool(low <= value <= high)
    if rule.get("type") != "array" or type(value) is not list or "items" not in rule:
        return False
    low, high, inner = rule.get("minItems", 0), rule.get("maxItems", math.inf), rule["items"]
    return bool(low <= len(value) <= high) and all(_plainly_fits(one, inner) for one in value)


def _items(validator: Any, items: Any, instance: Any, rule: Any) -> Iterator[ValidationError]:
    """The library's own look at a list, spared for plain numbers that fit: a tenth of the time."""
    if not (isinstance(items, dict) and isinstance(instance, list) and "prefixItems" not in rule):
        yield from Draft202012Validator.VALIDATORS["items"](validator, items, instance, rule)
        return
    for at, one in enumerate(instance):
        if not _plainly_fits(one, items):
            yield from validator.descend(one, items, path=at)


_Validator: Any = extend(Draft202012Validator, {"items": _items})  # type: ignore[no-untyped-call]


@cache
def _validator(name: str) -> Validator:
    found: Validator = _Validator(schema(name))
    return found


class _Broken(NamedTuple):
    """One broken rule of the schema: where, which rule, its limit, the value found, the schema's words."""

    path: Path
    rule: str
    limit: Any
    value: Any
    described: dict[str, Any]


def _broken(error: ValidationError) -> _Broken:
    described = error.schema if isinstance(error.schema, dict) else {}
    limit: Any = error.validator_value
    return _Broken(tuple(error.absolute_path), str(error.validator), limit, error.instance, described)


def _explain(broken: _Broken) -> Iterator[Fault]:
    if broken.rule == "additionalProperties":
        yield from _unknown_keys(broken)
    elif broken.rule == "required":
        yield from _missing_keys(broken)
    else:
        yield Fault(field_name(broken.path), shown(broken.value), _problem(broken), _remedy(broken))


def _unknown_keys(broken: _Broken) -> Iterator[Fault]:
    known = broken.described.get("properties", {})
    offered = [key for key, rule in known.items() if not rule.get("deprecated")]
    unknown = ((key, value) for key, value in broken.value.items() if key not in known)
    for at, (key, value) in enumerate(unknown):
        if at < MAX_FAULTS:
            field = field_name((*broken.path, str(key)[:80]))
            yield Fault(field, shown(value), "this name is not known here", did_you_mean(str(key), offered))


def _missing_keys(broken: _Broken) -> Iterator[Fault]:
    properties = broken.described.get("properties", {})
    for key in broken.limit:
        if key not in broken.value:
            words = properties.get(key, {}).get("x-remedy", "Add it")
            yield Fault(field_name((*broken.path, key)), "", "this is missing", words)


def _remedy(broken: _Broken) -> str:
    if broken.rule == "enum" and isinstance(broken.value, str):
        return did_you_mean(broken.value, [str(word) for word in broken.limit])
    if broken.rule == "maxLength":
        return say("files.shorten", limit=str(broken.limit))
    return str(broken.described.get("x-remedy", "See the published schema"))


_TYPE_WORDS = {
    "number": "a number",
    "integer": "a whole number",
    "string": "text",
    "boolean": "true or false",
    "array": "a list",
    "object": "a table of names and values",
}


def _problem(broken: _Broken) -> str:
    rule, limit = broken.rule, broken.limit
    if rule == "type":
        kinds = [limit] if isinstance(limit, str) else list(limit)
        return "this must be " + " or ".join(_TYPE_WORDS.get(kind, kind) for kind in kinds)
    words = {
        "minimum": say("files.too_low", limit=str(limit)),
        "exclusiveMinimum": say("files.must_be_above", limit=str(limit)),
        "maximum": say("files.too_high", limit=str(limit)),
        "exclusiveMaximum": say("files.must_be_below", limit=str(limit)),
        "enum": "this word is not known here",
        "const": say("files.must_be", limit=str(limit)),
        "minLength": "this is empty",
        "maxLength": say("files.too_many_letters", limit=str(limit)),
        "minItems": say("files.too_few_listed", limit=str(limit)),
        "maxItems": say("files.too_many_listed", limit=str(limit)),
        "pattern": "this is not written as expected",
        "uniqueItems": "something is listed twice",
    }
    return words.get(rule, "this does not fit")


def _not_finite(value: Any, path: Path = ()) -> Iterator[tuple[Path, float]]:
    if isinstance(value, float) and not math.isfinite(value):
        yield path, value
    elif isinstance(value, dict):
        for key, inner in value.items():
            yield from _not_finite(inner, (*path, key))
    elif isinstance(value, list):
        for place, inner in enumerate(value):
            yield from _not_finite(inner, (*path, place))


def _names_in(document: Document) -> int:
    """How many names and texts all tables and lists hold together; an empty table counts as one."""
    todo: list[Any] = [document]
    count = 0
    while todo:
        value = todo.pop()
        if isinstance(value, dict):
            count += max(1, len(value))
        else:
            count += sum(isinstance(inner, str) for inner in value)
        todo.extend(
            inner
            for inner in (value.values() if isinstance(value, dict) else value)
            if isinstance(inner, dict | list)
        )
    return count


def _too_deep(document: Document) -> bool:
    """Whether tables and lists nest beyond any sensible document; level by level, never by recursion."""
    level: list[Any] = [document]
    for _ in range(MAX_DEPTH):
        level = [
            inner
            for value in level
            for inner in (value.values() if isinstance(value, dict) else value)
            if isinstance(inner, dict | list)
        ]
        if not level:
            return False
    return True


def _capped(faults: list[Fault], *, whole: bool) -> list[Fault]:
    """At most MAX_FAULTS and how many more there are, as far as anybody ``whole`` looked."""
    if whole and len(faults) <= MAX_FAULTS:
        return faults
    more = len(faults) - MAX_FAULTS
    words = say("files.more_faults_listed", more=str(more)) if whole else say("files.many_more_faults")
    return [*faults[:MAX_FAULTS], Fault("", "", words, "Mend these first")]
