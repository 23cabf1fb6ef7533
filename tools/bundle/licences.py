"""Gathers the licence texts of everything that travels in the bundle; ``python licences.py FOLDER``."""

from __future__ import annotations

import re
import sys
import sysconfig
from importlib.metadata import Distribution, PackageNotFoundError, distribution
from pathlib import Path

WORDS = re.compile(r"(?i)(?:^|/)(?:licen[cs]e|copying|notice|authors|lgpl|gpl)[^/]*$")


def parts(name: str, found: dict[str, Distribution]) -> dict[str, Distribution]:
    """A distribution and whatever it needs at run time, by name."""
    try:
        here = distribution(name)
    except PackageNotFoundError:
        return found
    if here.metadata["Name"] in found:
        return found
    found[here.metadata["Name"]] = here
    for need in here.requires or []:
        if "extra ==" not in need:
            parts(re.split(r"[^A-Za-z0-9._-]", need)[0], found)
    return found


def main(target: Path) -> None:
    lines = ["What travels in this folder, its version, and the terms it states:", ""]
    for name, part in sorted(parts("skepway", {}).items(), key=lambda item: item[0].lower()):
        terms = part.metadata.get("License-Expression") or part.metadata.get("License") or "see its texts"
        lines.append(f"{name} {part.version}: {terms.splitlines()[0][:120]}")
        for file in part.files or []:
            if WORDS.search(str(file)) and (source := Path(str(part.locate_file(file)))).is_file():
                copy = target / name / re.sub(r"[^\w.-]+", "_", str(file))[-100:]
                copy.parent.mkdir(parents=True, exist_ok=True)
                copy.write_bytes(source.read_bytes())
    python = Path(sysconfig.get_path("stdlib")) / "LICENSE.txt"
    if python.is_file():
        (target / "Python").mkdir(parents=True, exist_ok=True)
        (target / "Python" / "LICENSE.txt").write_bytes(python.read_bytes())
    target.mkdir(parents=True, exist_ok=True)
    (target / "PARTS.txt").write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
