"""A draft as TOML text that a person likes to read, keeping the comments of the file it replaces."""

from __future__ import annotations

import tomllib
from collections.abc import MutableMapping
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError

from planner.errors import SkepwayError
from planner.store.documents import MAX_TOML_BYTES, Document, parse_toml, read_text


def toml_text(draft: Document, old: Path) -> str:
    """TOML text of a draft; comments and order of the old file stay wherever its entries stay."""
    return _amended(draft, old) or _fresh(draft)


def _fresh(draft: Document) -> str:
    document = tomlkit.document()
    for key in sorted(draft, key=lambda key: isinstance(draft[key], dict | list)):
        document.add(key, _item(draft[key]))
    return tomlkit.dumps(document)


def _amended(draft: Document, old: Path) -> str | None:
    """The old text with the draft's values put in; None when there is no such text or it would not say the same."""
    if not old.is_file():
        return None
    try:
        document = tomlkit.parse(read_text(old, MAX_TOML_BYTES, "a trip file"))
        _amend(document, draft)
        text = tomlkit.dumps(document)
        return text if parse_toml(text, old.name) == draft else None
    except (SkepwayError, TOMLKitError, tomllib.TOMLDecodeError, ValueError, RecursionError):
        return None  # an unreadable old file has no comments worth keeping


def _amend(table: MutableMapping[str, Any], draft: Document) -> None:
    """Make a parsed table say what the draft says, touching only what differs."""
    for key in [key for key in table if key not in draft]:
        del table[key]
    for key, value in draft.items():
        old = table.get(key)
        if isinstance(value, dict) and isinstance(old, MutableMapping):
            _amend(old, value)
        elif _same_tables(old, value):
            for inner, wanted in zip(old or [], value, strict=True):
                _amend(inner, wanted)
        elif old is None or _plain(old) != value or isinstance(old, bool) != isinstance(value, bool):
            table[key] = _item(value)


def _same_tables(old: Any, value: Any) -> bool:
    """Whether both are as many tables, so that each keeps its comments."""
    return (
        isinstance(value, list)
        and isinstance(old, list)
        and len(old) == len(value) > 0
        and all(isinstance(inner, MutableMapping) for inner in old)
        and all(isinstance(inner, dict) for inner in value)
    )


def _plain(item: Any) -> Any:
    return item.unwrap() if hasattr(item, "unwrap") else item


def _item(value: Any) -> Any:
    """A value as tomlkit writes it: tables for dicts, one line to each row of a long list."""
    if isinstance(value, list) and value and all(isinstance(inner, dict) for inner in value):
        tables = tomlkit.aot()
        for inner in value:
            tables.append(_table(inner))
        return tables
    if isinstance(value, dict):
        return _table(value)
    if isinstance(value, list):
        array = tomlkit.array()
        array.extend(value)
        return array.multiline(any(isinstance(inner, list) for inner in value))
    return tomlkit.item(value)


def _table(values: Document) -> Any:
    table = tomlkit.table()
    for key in sorted(values, key=lambda key: isinstance(values[key], dict)):
        table.add(key, _inline(values[key]) if isinstance(values[key], dict) else _item(values[key]))
    return table


def _inline(values: Document) -> Any:
    """A small table within a table, on one line: misting = {ml = 20, ...}."""
    table = tomlkit.inline_table()
    table.update(values)
    return table
