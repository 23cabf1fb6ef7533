"""Makes and compiles the translations; a tool for development, Babel is not needed to run the program.

    python tools/words.py update [LANG ...]   bring resources/words/LANG/*.po up to date with the English source
    python tools/words.py compile             make *.mo of every *.po
    python tools/words.py check               say what is missing, and gaps that do not match; exit code 1 if any

A translation has the key as its context and the English text as its message. Titles of the bundled tables (loading
places, vehicles) are topics too; their source is the table. A text that is not translated is said in English.
"""

from __future__ import annotations

import argparse
import io
import struct
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path

from babel.messages.catalog import Catalog, Message
from babel.messages.pofile import read_po, write_po

from planner.words.catalogue import COUNT, SOURCE, Entry, gaps_of, source, topics, words_folder

RESOURCES = words_folder().parent
TABLES = {"places": "loading_places.toml", "vehicles": "vehicles.toml"}
CAUTIONS = "cautions"
"""What a bundled loading place warns of: rows have no keys, the English text is the key."""
FIRST = ("sheets", "summary", "locale", "common", "rows", *TABLES, CAUTIONS)
"""What a new language begins with; another topic is begun by making its file."""
HEADER = "Words of Skepway: {topic}. Keys are contexts; gaps in {{braces}} stay as they are."


def table(topic: str) -> dict[str, Entry]:
    """The English texts of a topic by key: sentences, or the titles of a bundled table."""
    if topic == CAUTIONS:
        places = tomllib.loads((RESOURCES / TABLES["places"]).read_text(encoding="utf-8"))
        return {text: Entry(text) for row in places.values() for text in row.get("cautions", ())}
    if topic not in TABLES:
        return source(topic)
    rows = tomllib.loads((RESOURCES / TABLES[topic]).read_text(encoding="utf-8"))
    return {key: Entry(row["title"]) for key, row in rows.items()}


def all_topics() -> tuple[str, ...]:
    return (*topics(), *TABLES, CAUTIONS)


def wanted(topic: str) -> Iterator[Message]:
    """Every message that a translation of a topic should have."""
    for key, entry in table(topic).items():
        text = entry.one if entry.other is None else (entry.one, entry.other)
        yield Message(text, context=f"{topic}." if topic == CAUTIONS else f"{topic}.{key}")


def read(path: Path) -> Catalog:
    with path.open("rb") as file:
        return read_po(file, locale=path.parent.name)


def updated(language: str, topic: str, old: Catalog | None) -> Catalog:
    """The catalogue of a topic with the translations that still stand for the same English text."""
    made = Catalog(
        locale=language, domain=topic, project="Skepway", version="1", fuzzy=False, charset="utf-8"
    )
    made.header_comment = f"# {HEADER.format(topic=topic)}"
    for message in wanted(topic):
        before = old.get(message.id, context=message.context) if old is not None else None
        kept = before.string if before is not None and before.string else None
        made.add(message.id, kept, context=message.context)
    return made


def written(catalogue: Catalog, topic: str, checked: str) -> bytes:
    """A catalogue as a file that does not change by itself: no dates of its making in it."""
    out = io.BytesIO()
    write_po(out, catalogue, width=0, omit_header=True)
    forms = f"nplurals={catalogue.num_plurals}; plural={catalogue.plural_expr};"
    header = (
        f'# {HEADER.format(topic=topic)}\nmsgid ""\nmsgstr ""\n'
        f'"Language: {catalogue.locale_identifier}\\n"\n'
        '"Content-Type: text/plain; charset=utf-8\\n"\n'
        f'"Plural-Forms: {forms}\\n"\n'
        f'"X-Checked-By-Native-Speaker: {checked}\\n"\n\n'
    )
    return header.encode() + out.getvalue().strip() + b"\n"


def checked_by(path: Path) -> str:
    """Who is said to have checked a translation; nobody, where nothing is said."""
    if path.is_file():
        for line in path.read_text(encoding="utf-8").splitlines():
            if line.startswith('"X-Checked-By-Native-Speaker:'):
                return line.split(":", 1)[1].removesuffix('\\n"').strip()
    return "no"


def compiled(path: Path) -> bytes:
    """What a .po file compiles to: the tables of GNU gettext, with the header that says who has checked it."""
    catalogue = read(path)
    forms = f"nplurals={catalogue.num_plurals}; plural={catalogue.plural_expr};"
    header = (
        f"Language: {catalogue.locale_identifier}\nContent-Type: text/plain; charset=utf-8\n"
        f"Plural-Forms: {forms}\nX-Checked-By-Native-Speaker: {checked_by(path)}\n"
    )
    pairs = {b"": header.encode()}
    for message in catalogue:
        if message.id and _whole(message.string):
            ids = message.id if isinstance(message.id, tuple | list) else (message.id,)
            texts = message.string if isinstance(message.string, tuple | list) else (message.string,)
            pairs[f"{message.context}\x04".encode() + "\0".join(ids).encode()] = "\0".join(texts).encode()
    return mo_bytes(pairs)


def mo_bytes(pairs: dict[bytes, bytes]) -> bytes:
    """A .mo file, little-endian, without a hash table (format: GNU gettext manual, "MO Files")."""
    keys = sorted(pairs)
    start = 28 + 16 * len(keys)
    tables: list[tuple[int, int]] = []
    body = b""
    for texts in (keys, [pairs[key] for key in keys]):
        for text in texts:
            tables.append((len(text), start + len(body)))
            body += text + b"\0"
    numbers = [0x950412DE, 0, len(keys), 28, 28 + 8 * len(keys), 0, 28 + 16 * len(keys)]
    return (
        struct.pack(f"<{len(numbers)}I", *numbers)
        + b"".join(struct.pack("<2I", *row) for row in tables)
        + body
    )


def update(languages: list[str]) -> None:
    for language in languages:
        for topic in all_topics():
            path = words_folder() / language / f"{topic}.po"
            if not path.is_file() and topic not in FIRST:
                continue
            path.parent.mkdir(parents=True, exist_ok=True)
            old = read(path) if path.is_file() else None
            path.write_bytes(written(updated(language, topic, old), topic, checked_by(path)))


def compile_all() -> None:
    for path in sorted(words_folder().glob("*/*.po")):
        path.with_suffix(".mo").write_bytes(compiled(path))


def faults(path: Path) -> Iterator[str]:
    """Sentences of a translation with gaps that the English text does not have, or without one that it has."""
    where = f"{path.parent.name}/{path.name}"
    for message in read(path):
        if not message.id or not message.string:
            continue
        ids = message.id if isinstance(message.id, tuple | list) else (message.id,)
        texts = message.string if isinstance(message.string, tuple | list) else (message.string,)
        allowed = frozenset().union(*map(gaps_of, ids))
        for text in texts:
            try:
                found = gaps_of(text)
            except ValueError as error:
                yield f"{where}: {message.context}: {error}"
                continue
            missing = allowed - found - {COUNT}
            if found - allowed or (missing and text):
                yield f"{where}: {message.context}: gaps {sorted(found)}, English {sorted(allowed)}"


def missing(path: Path) -> list[str]:
    """Keys of a topic that a translation lacks."""
    known = read(path)
    found = (
        (message.context, known.get(message.id, context=message.context)) for message in wanted(path.stem)
    )
    return [str(context) for context, message in found if message is None or not _whole(message.string)]


def _whole(text: object) -> bool:
    return all(text) if isinstance(text, tuple | list) else bool(text)


def check() -> int:
    bad = 0
    for path in sorted(words_folder().glob("*/*.po")):
        lacking = missing(path)
        if lacking:
            print(f"{path.parent.name}/{path.stem}: {len(lacking)} not translated, the first {lacking[0]}")
        for fault in faults(path):
            bad += 1
            print(fault)
    return bool(bad)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("what", choices=("update", "compile", "check"))
    parser.add_argument("languages", nargs="*")
    args = parser.parse_args()
    here = [path.name for path in words_folder().iterdir() if path.is_dir() and path.name != SOURCE]
    if args.what == "update":
        update(args.languages or here)
    elif args.what == "compile":
        compile_all()
    else:
        return check()
    return 0


if __name__ == "__main__":
    sys.exit(main())
