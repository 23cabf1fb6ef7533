"""Gathers the licence texts of everything that travels in the bundle; ``python licences.py BUNDLE``.

Of Python's packages from what they state, of the system's libraries that were taken along from what Debian keeps of
them; a library of which nothing is found is named.
"""

from __future__ import annotations

import re
import shutil
import subprocess
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


def terms_of(part: Distribution) -> str:
    """The terms a part states: as an expression, in words, or by its classifiers."""
    stated = part.metadata.get("License-Expression") or part.metadata.get("License")
    if stated:
        return stated.splitlines()[0][:120]
    sorts = [
        text.rsplit(" :: ", 1)[-1] for text in part.metadata.get_all("Classifier") or [] if "License" in text
    ]
    return ", ".join(sorts) or "see its texts"


def system_libraries(bundle: Path, target: Path) -> list[str]:
    """Copy what the system's packages say of the libraries beside the program; a line for each package."""
    if not shutil.which("dpkg-query"):
        return []
    found: dict[str, list[str]] = {}
    for file in sorted((bundle / "_internal").glob("lib*.so*")):
        if not file.is_symlink():
            found.setdefault(_package_of(file.name), []).append(file.name)
    lines = []
    for package, names in sorted(found.items()):
        text = Path("/usr/share/doc") / package / "copyright"
        if package and text.is_file():
            (target / package).mkdir(parents=True, exist_ok=True)
            shutil.copyfile(text, target / package / "copyright")
        lines.append(f"{package or 'of no package here'}: {', '.join(names)}")
    return lines


def _package_of(name: str) -> str:
    """The Debian package a library comes from, "" where none does (Python's own, those inside of wheels)."""
    said = subprocess.run(
        ["dpkg-query", "--search", f"*/{name}"], capture_output=True, text=True, check=False
    ).stdout
    return said.split(":", 1)[0].split(",")[0] if said else ""


def main(bundle: Path) -> None:
    target = bundle / "licences"
    lines = ["What travels in this folder, its version, and the terms it states:", ""]
    for name, part in sorted(
        {**parts("skepway", {}), **parts("pyinstaller", {})}.items(), key=lambda item: item[0].lower()
    ):
        lines.append(f"{name} {part.version}: {terms_of(part)}")
        for file in part.files or []:
            if WORDS.search(str(file)) and (source := Path(str(part.locate_file(file)))).is_file():
                copy = target / name / re.sub(r"[^\w.-]+", "_", str(file))[-100:]
                copy.parent.mkdir(parents=True, exist_ok=True)
                copy.write_bytes(source.read_bytes())
    python = Path(sysconfig.get_path("stdlib")) / "LICENSE.txt"
    if python.is_file():
        (target / "Python").mkdir(parents=True, exist_ok=True)
        (target / "Python" / "LICENSE.txt").write_bytes(python.read_bytes())
    if libraries := system_libraries(bundle, target / "system"):
        lines += [
            "",
            "Libraries of the system it was made on, by the Debian package they come from:",
            "",
            *libraries,
        ]
    target.mkdir(parents=True, exist_ok=True)
    (target / "PARTS.txt").write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
