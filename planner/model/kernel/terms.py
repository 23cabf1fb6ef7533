"""Which terms the numpy march has, and whether the compiled one tells the same ones: by the code, not by its words.

A term is what stands at the left margin of a module of the march: a function, a class, a constant. Its mark is a hash
of its code without comments, docstrings and layout. ``terms.txt`` keeps the marks that the kernel was written for;
once any of them differs, the kernel no longer tells the same physics and is not used. ``judging.txt`` does so for
what judges; once one of those differs, the kernel marches on but judges no more.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from pathlib import Path

FOLDER = Path(__file__).resolve().parent
MARCHING, JUDGING = FOLDER / "terms.txt", FOLDER / "judging.txt"

_BEGINS = re.compile(r"^(?=(?:def|class) \w|@\w|[A-Za-z_]\w*(?:, \w+)*(?:: [^=\n]+)? = )", re.MULTILINE)
_NAME = re.compile(r"(?:def|class) (\w+)|^([A-Za-z_]\w*(?:, \w+)*)(?:: [^=\n]+)? = ", re.MULTILINE)
_WORDS = re.compile(r'[rf]?"""[\s\S]*?"""|(?<!["\w])#[^\n]*')
_LAYOUT = re.compile(r"\s+|,(?=\s*[)\]}])")


def told(table: Path = MARCHING) -> dict[str, str]:
    """The marks the kernel was written for, by ``module.name``."""
    return dict(
        line.split() for line in table.read_text(encoding="utf-8").splitlines() if line[:1] not in ("", "#")
    )


def changed(marks: Mapping[str, str], folder: Path = FOLDER.parent) -> list[str]:
    """Terms of ``marks`` that the numpy march in ``folder`` says otherwise, or no longer.

    Where the sources do not lie beside the program (in a bundle), nothing can have changed.
    """
    modules = {name.partition(".")[0] for name in marks}
    if not all((folder / f"{module}.py").is_file() for module in modules):
        return []
    now = {name: mark for module in modules for name, mark in marks_of(folder / f"{module}.py").items()}
    return sorted(name for name, mark in marks.items() if now.get(name) != mark)


def marks_of(path: Path) -> dict[str, str]:
    """The mark of everything at the left margin of a module, by ``module.name``."""
    found: dict[str, str] = {}
    decorated = ""
    for part in _BEGINS.split(_WORDS.sub("", path.read_text(encoding="utf-8")))[1:]:
        if part.startswith("@"):
            decorated += part
            continue
        code = _LAYOUT.sub("", decorated + part)
        decorated = ""
        named = _NAME.search(part)
        for name in (named[1] or named[2]).split(", ") if named else ():
            found[f"{path.stem}.{name}"] = hashlib.sha256(code.encode()).hexdigest()[:12]
    return found
