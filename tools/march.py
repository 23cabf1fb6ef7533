#!/usr/bin/env python3
"""Build the compiled march, or write down which terms of the numpy march it tells.

    python3 tools/march.py              build the library in planner/model/kernel unless it is there; one line says
                                        which march is in use
    python3 tools/march.py --terms      after the kernel was changed with the numpy march: take its marks anew

Needs nothing but Python and a C compiler: ``CC`` where it is set, else cc, gcc or clang, else the one of the ziglang
package. Where none can do it the numpy march does the work; the exit code is then 1.
"""

from __future__ import annotations

import argparse
import ast
import os
import shlex
import shutil
import subprocess
import sys
from collections.abc import Iterator, Sequence
from functools import cache
from importlib.util import find_spec
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from planner.model.kernel import library, terms  # noqa: E402

SOURCE = library.FOLDER / "march.c"
BUILT = library.FOLDER / library.NAME
FLAGS = (
    "-std=gnu11",
    "-O3",
    "-fno-math-errno",
    "-fno-trapping-math",
    "-fPIC",
    "-shared",
    "-fvisibility=hidden",
)
MATHEMATICS = () if sys.platform == "win32" else ("-lm",)
"""For the end of a case alone; the loop over time needs none."""

BEGIN = (
    "balance.coefficients_of",
    "integrate.prepare",
    "integrate.settle",
    "integrate.advance",
    "integrate._means",
)
"""What the kernel tells again; with all that these ask, the terms of the march."""

JUDGING_BEGINS = ("limits.assess",)
"""What it tells again of judging."""

HANDED_OVER = {
    "STEP_S",
    "Boxes",
    "Parameters",
    "LocalAir",
    "VehicleState",
    "Cases",
    "Histories",
    "Floats",
    "Bools",
    "Ints",
}
"""What both marches are handed: a field more of a record is no term until the march reads it."""


def main() -> int:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--terms", action="store_true", help="take the marks of the numpy march anew")
    if parser.parse_args().terms:
        write_terms()
    made, said = build()
    print(said)
    return 0 if made else 1


# -- building ------------------------------------------------------------------------------------


def build(target: Path = BUILT, more: Sequence[str] = ()) -> tuple[bool, str]:
    """Build the library unless it is there: whether it may be used, and which march is, in one sentence."""
    if isinstance(library.opened(target), library.Library) and not more:
        return True, "The compiled march is in use."
    if changed := terms.changed(terms.told()):
        return (
            False,
            f"The numpy march is in use: the compiled one does not know the present {', '.join(changed)}.",
        )
    tried = []
    for compiler in compilers():
        if not (trouble := compiled(compiler, target, more)):
            return True, f"The compiled march is in use, built with {Path(compiler[0]).name}."
        tried.append(f"{' '.join(compiler)}: {trouble}")
    target.unlink(missing_ok=True)
    why = "; ".join(tried) or "no C compiler was found"
    return False, f"The numpy march is in use, which gives the same answers more slowly ({why})."


def compilers() -> Iterator[list[str]]:
    """The C compilers at hand, the wished one first."""
    if wished := os.environ.get("CC"):
        yield shlex.split(wished)
    for name in ("cc", "gcc", "clang"):
        if path := shutil.which(name):
            yield [path]
    if find_spec("ziglang"):
        yield [sys.executable, "-m", "ziglang", "cc"]


def compiled(compiler: Sequence[str], target: Path, more: Sequence[str] = ()) -> str:
    """Run a compiler into a new file, try that and put it in place; "" or what went wrong, in a few words.

    A library in use must not be written over, so it is replaced whole.
    """
    fresh = target.with_name(f"{target.stem}-{os.getpid()}{target.suffix}")
    command = [
        *compiler,
        *FLAGS,
        *more,
        f'-DSOURCE_HASH="{library.source_hash()}"',
        "-o",
        str(fresh),
        str(SOURCE),
        *MATHEMATICS,
    ]
    try:
        done = subprocess.run(command, stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False)
        if done.returncode or not fresh.is_file():
            said = [line for line in done.stderr.splitlines() if line.strip()]
            return next((line for line in said if "error" in line), said[0] if said else "it failed")[:200]
        if isinstance(found := library.opened(fresh), library.Refused):
            return found.reason
        fresh.replace(target)
    except OSError as error:
        return str(error)
    finally:
        fresh.unlink(missing_ok=True)
    return ""


# -- terms ---------------------------------------------------------------------------------------


def write_terms() -> None:
    """Mark every term that the march and the judging have now."""
    head = "# What the kernel tells again: each term of the Python with the mark of its code.\n"
    for table, begin in ((terms.MARCHING, BEGIN), (terms.JUDGING, JUDGING_BEGINS)):
        names = sorted(reached(begin))
        lines = (f"{name} {_marks(name.partition('.')[0])[name]}\n" for name in names)
        table.write_text(head + "".join(lines), encoding="utf-8")


@cache
def _marks(module: str) -> dict[str, str]:
    return terms.marks_of(terms.FOLDER.parent / f"{module}.py")


def reached(begin: Sequence[str] = BEGIN) -> set[str]:
    """Every term that the march comes to from where it begins, ``module.name``."""
    found: set[str] = set()
    waiting = list(begin)
    while waiting:
        term = waiting.pop()
        if term in found:
            continue
        found.add(term)
        module, name = term.split(".")
        waiting += _asked_by(module, name)
    return found


@cache
def _tree(module: str) -> ast.Module:
    return ast.parse((terms.FOLDER.parent / f"{module}.py").read_text(encoding="utf-8"))


def _asked_by(module: str, name: str) -> list[str]:
    """The terms of the model that one term names."""
    tree = _tree(module)
    at_home = {term.partition(".")[2] for term in _marks(module)}
    modules: set[str] = set()
    taken: dict[str, str] = {}
    for node in tree.body:
        if isinstance(node, ast.ImportFrom) and node.module == "planner.model":
            modules |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and (node.module or "").startswith("planner.model."):
            taken |= {
                alias.name: f"{(node.module or '').rpartition('.')[2]}.{alias.name}" for alias in node.names
            }
    asked = []
    defined = _defined(tree, name)
    own = HANDED_OVER | {name} | {node.arg for node in ast.walk(defined) if isinstance(node, ast.arg)}
    for node in ast.walk(defined):
        if isinstance(node, ast.Name) and node.id not in own:
            if node.id in at_home:
                asked.append(f"{module}.{node.id}")
            elif node.id in taken:
                asked.append(taken[node.id])
        elif (
            isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and node.value.id in modules
        ):
            asked.append(f"{node.value.id}.{node.attr}")
    return asked


def _defined(tree: ast.Module, name: str) -> ast.AST:
    """What stands at the left margin under a name."""
    for node in tree.body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef) and node.name == name:
            return node
        if isinstance(node, ast.Assign | ast.AnnAssign):
            targets = node.targets if isinstance(node, ast.Assign) else [node.target]
            if name in {
                part.id for target in targets for part in ast.walk(target) if isinstance(part, ast.Name)
            }:
                return node
    raise LookupError(name)


if __name__ == "__main__":
    sys.exit(main())
