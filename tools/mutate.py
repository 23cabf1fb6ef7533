"""Change the program in one small spot at a time, and see whether the tests of that layer notice.

    python tools/mutate.py                                  30 mutants of each layer, drawn with a fixed seed
    python tools/mutate.py --layers store --per-layer 6     fewer
    python tools/mutate.py --only planner/model/air.py:40   every mutant of one line
    python tools/mutate.py --patch FILE                     mutants made by hand, one table ``[[mutant]]`` each:
                                                            file, before, after, nth (1 unless told)

A mutant is judged by the folder of tests that bears its layer's name, by nothing else, and only lines those
tests run are changed. Everything happens in copies of the tree; the checkout is only read. The exit code is
1 when any layer kills less than 85 %.

Left alone: texts, annotations, type aliases, decorators, ``zip``'s ``strict``, and numbers below a millionth,
which guard against a division by nought and do so as well when they are a tenth larger.
"""

from __future__ import annotations

import argparse
import ast
import hashlib
import json
import os
import queue
import random
import re
import shutil
import subprocess
import sys
import tempfile
import time
import tomllib
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor, as_completed
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from functools import cached_property
from pathlib import Path
from types import CodeType

import coverage
import pytest

ROOT = Path(__file__).resolve().parent.parent
LAYERS = ("model", "app", "store", "services")
SEED = 2027
PER_LAYER = 30
ENOUGH_SHARE = 0.85
GRACE_S = 30.0
TIMES_UNCHANGED = 4.0
MEMORY_BYTES = 8 * 2**30
COMPILED = ".compiled"
"""Where the runs of a copy keep compiled code, in the copy."""
LEFT_OUT = shutil.ignore_patterns(".*", "__pycache__", "*.pyc", "build", "dist", "htmlcov", "skepway-demo")
HASHED = ("planner", "resources", "pyproject.toml", "tests/conftest.py", "tests/fixtures")
QUIET = ("-p", "no:cacheprovider", "-q", "--no-header", "--tb=no", "-rfE")
REPEATABLE = ("--hypothesis-seed=0",)

# Changes that no test could notice: (file, line as it is, line as changed), both without indent -> the reason.
EQUIVALENT: dict[tuple[str, str, str], str] = {
    (
        "planner/services/forecast/assemble.py",
        'fields["dew_c"] = np.where(fields["dew_c"] > fields["air_c"], fields["air_c"], fields["dew_c"])',
        'fields["dew_c"] = np.where(fields["dew_c"] >= fields["air_c"], fields["air_c"], fields["dew_c"])',
    ): "where both are equal, either is the answer",
    (
        "planner/app/standing/reserve.py",
        "least = np.where(aboard, here, np.inf).min(axis=-1)",
        "least = np.where(aboard, here, np.inf).min(axis=1)",
    ): "of two axes the last is the second",
    (
        "planner/app/plan/plan.py",
        "return (sun.sun_position(closed_s, lat, lon).elevation_deg < 0.0).astype(np.float64)",
        "return (sun.sun_position(closed_s, lat, lon).elevation_deg <= 0.0).astype(np.float64)",
    ): "no instant has the sun at the horizon to the last bit",
    (
        "planner/app/season/chart.py",
        "trip = replace(lane.trip, window=Window(0.0, 0.0), arrival=type(lane.trip.arrival)(), loading_places=())",
        "trip = replace(lane.trip, window=Window(1.0, 0.0), arrival=type(lane.trip.arrival)(), loading_places=())",
    ): "any window will do, so long as every lane is given the same",
    (
        "planner/app/season/chart.py",
        "trip = replace(lane.trip, window=Window(0.0, 0.0), arrival=type(lane.trip.arrival)(), loading_places=())",
        "trip = replace(lane.trip, window=Window(0.0, 1.0), arrival=type(lane.trip.arrival)(), loading_places=())",
    ): "any window will do, so long as every lane is given the same",
    (
        "planner/services/forecast/assemble.py",
        "if np.any(off_km > FARTHEST_KM):",
        "if np.any(off_km >= FARTHEST_KM):",
    ): "no distance on the globe is a hundred kilometres to the last bit",
    (
        "planner/services/roads/valhalla.py",
        "piece_s[edge.begin_shape_index : edge.end_shape_index] = edge.length / edge.speed * 3600.0 / count",
        "piece_s[edge.begin_shape_index : edge.end_shape_index] = edge.length / edge.speed * 3960.0 / count",
    ): "the pieces of a leg are scaled to its own driving time",
}


class MutationError(Exception):
    """The run cannot go on; the text says why."""


# What is changed


@dataclass(frozen=True, order=True)
class Mutant:
    """Bytes ``start`` to ``end`` of a file become ``text``; the order is that of file, position and kind.

    ``lines`` are those to look for among the lines run: the changed ones, or the head of their statement where
    they hold no code of their own. ``unit`` is the function or class it lies in. What runs ``at_import`` is run
    by no test in particular.
    """

    file: str
    start: int
    end: int
    kind: str
    text: str
    line: int
    lines: tuple[int, ...]
    unit: str
    at_import: bool
    before: str
    after: str

    @property
    def key(self) -> tuple[str, str, str]:
        """How the table of equivalent mutants names it."""
        return self.file, self.before, self.after

    def applied(self, source: bytes) -> bytes:
        return source[: self.start] + self.text.encode() + source[self.end :]

    def __str__(self) -> str:
        return f"{self.file}:{self.line}  {self.kind}  {self.before}  ->  {self.after}"


@dataclass(frozen=True)
class Source:
    """The bytes of a file, and where its lines begin."""

    file: str
    content: bytes

    @cached_property
    def starts(self) -> list[int]:
        return [0, *(found.end() for found in re.finditer(rb"\n", self.content))]

    @cached_property
    def coded(self) -> set[int]:
        """The lines that hold code of their own, unlike those of a folded constant."""
        return set(_coded_lines(compile(self.content, self.file, "exec", dont_inherit=True)))

    def at(self, line: int, column: int) -> int:
        """The byte at a column, itself in bytes, of a line counted from 1."""
        return self.starts[line - 1] + column

    def span(self, node: ast.expr) -> tuple[int, int]:
        assert node.end_lineno is not None
        assert node.end_col_offset is not None
        return self.at(node.lineno, node.col_offset), self.at(node.end_lineno, node.end_col_offset)

    def line_of(self, position: int) -> int:
        return self.content.count(b"\n", 0, position) + 1

    def mutant(
        self, start: int, end: int, kind: str, text: str, *, unit: str, at_import: bool, statement: int = 0
    ) -> Mutant:
        """The mutant, shown by the whole lines it changes."""
        first, last = self.line_of(start), self.line_of(max(start, end - 1))
        head, tail = self.starts[first - 1], [*self.starts, len(self.content)][last]
        before = self.content[head:tail].decode()
        after = (self.content[head:start] + text.encode() + self.content[end:tail]).decode()
        lines = tuple(line for line in range(first, last + 1) if line in self.coded) or (statement,)
        shown = _one_line(before), _one_line(after)
        return Mutant(self.file, start, end, kind, text, first, lines, unit, at_import, *shown)


def _coded_lines(code: CodeType) -> Iterator[int]:
    yield from (line for _, _, line in code.co_lines() if line)
    for inner in code.co_consts:
        if isinstance(inner, CodeType):
            yield from _coded_lines(inner)


def _one_line(text: str) -> str:
    return " | ".join(line.strip() for line in text.strip().splitlines())


SWAPS: dict[type[ast.AST], tuple[str, tuple[str, ...]]] = {
    ast.Add: ("+", ("-",)),
    ast.Sub: ("-", ("+",)),
    ast.Mult: ("*", ("/",)),
    ast.Div: ("/", ("*",)),
    ast.FloorDiv: ("//", ("/",)),
    ast.Pow: ("**", ("*",)),
    ast.Lt: ("<", ("<=", ">=")),
    ast.LtE: ("<=", ("<", ">")),
    ast.Gt: (">", (">=", "<=")),
    ast.GtE: (">=", (">", "<")),
    ast.Eq: ("==", ("!=",)),
    ast.NotEq: ("!=", ("==",)),
    ast.And: ("and", ("or",)),
    ast.Or: ("or", ("and",)),
}
EXTREMES = {"min": "max", "max": "min", "minimum": "maximum", "maximum": "minimum"}
SUMS = (ast.Add, ast.Sub)
JOINED = (ast.JoinedStr, ast.List, ast.Tuple, ast.Dict, ast.Set, ast.ListComp)
LEFT_ALONE = ("JoinedStr", "TemplateStr", "TypeAlias")  # the latter two by name: not in every Python
SMALLEST = 1e-6
TYPE_NAME = re.compile(r"_?[A-Z]+[a-z]\w*$")


def mutants_of(file: str, content: bytes) -> list[Mutant]:
    """Every mutant of one file, sorted."""
    finder = _Finder(Source(file, content))
    finder.visit(ast.parse(content))
    return sorted(finder.found)


class _Finder(ast.NodeVisitor):
    """Walks a module and notes what could be changed."""

    def __init__(self, source: Source) -> None:
        self.source = source
        self.found: list[Mutant] = []
        self._units: tuple[str, ...] = ()
        self._functions = 0
        self._statement = 0
        self._operands: set[ast.expr] = set()

    def _add(self, start: int, end: int, kind: str, text: str) -> None:
        self.found.append(
            self.source.mutant(
                start,
                end,
                kind,
                text,
                unit=".".join(self._units),
                at_import=not self._functions,
                statement=self._statement,
            )
        )

    # where we are

    def visit(self, node: ast.AST) -> None:
        if type(node).__name__ in LEFT_ALONE:
            return
        outer = self._statement
        if isinstance(node, ast.stmt):
            self._statement = node.lineno
        super().visit(node)
        self._statement = outer

    def _visit_all(self, nodes: Iterable[ast.AST | None]) -> None:
        for node in nodes:
            if node is not None:
                self.visit(node)

    def _enter(self, name: str, body: Sequence[ast.stmt], function: int) -> None:
        outer, self._units = self._units, (*self._units, name)
        self._functions += function
        self._visit_all(body)
        self._units = outer
        self._functions -= function

    def visit_FunctionDef(self, node: ast.FunctionDef | ast.AsyncFunctionDef) -> None:
        self._visit_all((*node.args.defaults, *node.args.kw_defaults))
        self._enter(node.name, node.body, 1)

    def visit_AsyncFunctionDef(self, node: ast.AsyncFunctionDef) -> None:
        self.visit_FunctionDef(node)

    def visit_ClassDef(self, node: ast.ClassDef) -> None:
        self._enter(node.name, node.body, 0)

    # what is left alone

    def visit_AnnAssign(self, node: ast.AnnAssign) -> None:
        if "TypeAlias" not in ast.unparse(node.annotation):
            self._visit_all([node.value])

    def visit_Assign(self, node: ast.Assign) -> None:
        names = [target.id for target in node.targets if isinstance(target, ast.Name)]
        if not any(name == "__all__" or TYPE_NAME.match(name) for name in names):
            self.generic_visit(node)

    def visit_If(self, node: ast.If) -> None:
        if "TYPE_CHECKING" not in ast.unparse(node.test):
            self.generic_visit(node)

    # operators

    def _swap(self, left: ast.expr, operator: ast.AST, right: ast.expr, closing: str = "") -> None:
        """Swap the operator that stands between two operands, beside brackets and comments at most."""
        if type(operator) not in SWAPS:
            return
        sign, others = SWAPS[type(operator)]
        start, end = self.source.span(left)[1], self.source.span(right)[0]
        gap = re.sub(rb"#[^\n]*", lambda found: b" " * len(found[0]), self.source.content[start:end])
        at = start + gap.index((sign + closing).encode())
        for other in others:
            self._add(at, at + len(sign), "operator", other)

    def visit_BinOp(self, node: ast.BinOp) -> None:
        self._arithmetic(node)
        self.generic_visit(node)

    def _arithmetic(self, node: ast.BinOp) -> None:
        inner = node in self._operands
        self._operands |= {node.left, node.right}
        if _is_text(node):
            return
        self._swap(node.left, node.op, node.right)
        if isinstance(node.op, SUMS):
            self._negate(node, already=_is_sum(node.left))
        elif isinstance(node.op, ast.Mult | ast.Div):
            self._negate(node, already=inner)

    def _negate(self, node: ast.BinOp, already: bool) -> None:
        """Negate the first term of a sum, or a product that is no part of another."""
        start, _ = self.source.span(node)
        first = self.source.content[start : start + 1]
        if not already and first != b"-":
            self._add(start, start, "sign", "-")

    def visit_AugAssign(self, node: ast.AugAssign) -> None:
        if not _is_text(node.value):
            self._swap(node.target, node.op, node.value, closing="=")
        self.generic_visit(node)

    def visit_Compare(self, node: ast.Compare) -> None:
        terms = [node.left, *node.comparators]
        for left, operator, right in zip(terms, node.ops, node.comparators, strict=False):
            self._swap(left, operator, right)
        self.generic_visit(node)

    def visit_BoolOp(self, node: ast.BoolOp) -> None:
        for left, right in zip(node.values, node.values[1:], strict=False):
            self._swap(left, node.op, right)
        self.generic_visit(node)

    def visit_UnaryOp(self, node: ast.UnaryOp) -> None:
        self._unary(node)
        self.generic_visit(node)

    def _unary(self, node: ast.UnaryOp) -> None:
        start, _ = self.source.span(node)
        kind = {ast.Not: "operator", ast.USub: "sign"}.get(type(node.op))
        sign = re.compile(rb"not[ \t]*|-[ \t]*").match(self.source.content, start)
        if kind and sign:
            self._add(start, sign.end(), kind, "")

    def visit_Attribute(self, node: ast.Attribute) -> None:
        if node.attr in ("minimum", "maximum"):
            self._swap_extreme(node, node.attr)
        self.generic_visit(node)

    def _swap_extreme(self, node: ast.expr, name: str) -> None:
        _, end = self.source.span(node)
        self._add(end - len(name), end, "operator", EXTREMES[name])

    # numbers

    def visit_Call(self, node: ast.Call) -> None:
        name = node.func.id if isinstance(node.func, ast.Name) else ""
        method = node.func.attr if isinstance(node.func, ast.Attribute) else ""
        for called in {name, method} & {"min", "max"}:
            self._swap_extreme(node.func, called)
        self.visit(node.func)
        for argument in node.args:
            if name == "range":
                self._bound(argument)
            else:
                self.visit(argument)
        self._visit_all(k.value for k in node.keywords if (name, k.arg) != ("zip", "strict"))

    def visit_Subscript(self, node: ast.Subscript) -> None:
        self.visit(node.value)
        self._bound(node.slice)

    def _bound(self, node: ast.expr | None) -> None:
        """Move the whole numbers of an index, a slice or a range by one; anything else is as elsewhere."""
        match node:
            case ast.Constant(value=int(number)) if not isinstance(number, bool):
                for moved in (number + 1, number - 1):
                    if moved >= 0:
                        self._add(*self.source.span(node), "bound", str(moved))
            case ast.Slice():
                self._bound(node.lower)
                self._bound(node.upper)
                self._visit_all([node.step])
            case ast.Tuple():
                for element in node.elts:
                    self._bound(element)
            case ast.BinOp(op=ast.Add() | ast.Sub()):
                self._arithmetic(node)
                self._bound(node.left)
                self._bound(node.right)
            case ast.UnaryOp():
                self._unary(node)
                self._bound(node.operand)
            case _:
                self._visit_all([node])

    def visit_Constant(self, node: ast.Constant) -> None:
        other = _other_value(node.value)
        if other is not None:
            self._add(*self.source.span(node), "constant", other)


def _other_value(value: object) -> str | None:
    """What a constant is changed to, as text: another truth, the next whole number, a tenth more."""
    if isinstance(value, bool):
        return str(not value)
    if isinstance(value, int):
        return str(value + 1)
    if isinstance(value, float) and (value == 0.0 or SMALLEST <= value < float("inf")):
        return repr(float(f"{value * 1.1:.12g}") if value else 1.0)
    return None


def _is_sum(node: ast.expr) -> bool:
    return isinstance(node, ast.BinOp) and isinstance(node.op, SUMS)


def _is_text(node: ast.expr) -> bool:
    """Whether a + or / joins texts, lists or paths, where any other operator is an error at once."""
    if isinstance(node, ast.BinOp):
        return _is_text(node.left) or _is_text(node.right)
    if isinstance(node, ast.Constant):
        return isinstance(node.value, str | bytes)
    return isinstance(node, JOINED)


# Which tests run it


@dataclass(frozen=True)
class Reach:
    """What the tests of one layer run, learnt in one run with the tests told apart.

    ``seconds`` are the tests with the time each takes, ``setup_s`` the time of the fixtures of each file.
    ``lines`` are, by file and line, the tests that run the line, none when it runs at import alone. ``shared``
    are the lines run while fixtures are set up: tests that share a fixture depend on them too, and only the
    first is seen to run them.
    """

    seconds: Mapping[str, float]
    setup_s: Mapping[str, float]
    lines: Mapping[str, Mapping[int, tuple[str, ...]]]
    shared: Mapping[str, tuple[int, ...]]

    def is_run(self, mutant: Mutant) -> bool:
        return any(line in self.lines.get(mutant.file, {}) for line in mutant.lines)

    def tests_for(self, mutant: Mutant, all_of_them: bool = False) -> tuple[str, ...]:
        """The tests that may notice a mutant: first those sure to run it, the quick ones foremost."""
        own = self._own(mutant)
        if all_of_them or not own or set(mutant.lines) & set(self.shared.get(mutant.file, ())):
            return tuple(dict.fromkeys((*own, *self._beside(own), *self._quickest(self.seconds))))
        return own

    def time_for(self, tests: Collection[str]) -> float:
        """The time of some tests, and of every fixture of their files, in s."""
        fixtures = sum(self.setup_s.get(file, 0.0) for file in {_file_of(test) for test in tests})
        return fixtures + sum(self.seconds.get(test, 0.0) for test in tests)

    def _own(self, mutant: Mutant) -> tuple[str, ...]:
        lines = self.lines.get(mutant.file, {})
        if mutant.at_import:
            return self._quickest({test for tests in lines.values() for test in tests})
        for line in mutant.lines:
            if lines.get(line):
                return self._quickest(lines[line])
        return ()

    def _beside(self, tests: Iterable[str]) -> tuple[str, ...]:
        """The tests that lie in the same files."""
        files = {_file_of(test) for test in tests}
        return self._quickest([test for test in self.seconds if _file_of(test) in files])

    def _quickest(self, tests: Collection[str]) -> tuple[str, ...]:
        """Sorted by time, but file by file, lest the fixtures of a file be set up again and again."""
        of_file: dict[str, float] = defaultdict(float)
        for test in tests:
            of_file[_file_of(test)] += self.seconds.get(test, 0.0)

        def rank(test: str) -> tuple[float, str, float, str]:
            file = _file_of(test)
            return of_file[file], file, self.seconds.get(test, 0.0), test

        return tuple(sorted(tests, key=rank))

    def as_json(self) -> str:
        return json.dumps(asdict(self))

    @classmethod
    def from_json(cls, text: str) -> Reach:
        data = json.loads(text)
        lines = {
            file: {int(line): tuple(tests) for line, tests in by_line.items()}
            for file, by_line in data["lines"].items()
        }
        shared = {file: tuple(some) for file, some in data["shared"].items()}
        return cls(data["seconds"], data["setup_s"], lines, shared)


def _file_of(test: str) -> str:
    return test.partition("::")[0]


def reach_of(layer: str, copy: Path, cache: Path) -> Reach:
    """What the tests of a layer run: out of the cache if the tree has not changed since."""
    kept = cache / f"{layer}-{tree_digest(copy)[:16]}.json"
    if kept.is_file():
        return Reach.from_json(kept.read_text(encoding="utf-8"))
    print(f"{layer}: learning which test runs which line ...", flush=True)
    reach = learn_reach(layer, copy)
    cache.mkdir(parents=True, exist_ok=True)
    kept.write_text(reach.as_json(), encoding="utf-8")
    return reach


def tree_digest(root: Path) -> str:
    """A digest of everything the answer of a test may hang on."""
    digest = hashlib.sha256()
    for name in (*HASHED, *(f"tests/{layer}" for layer in LAYERS)):
        inside = [path for path in (root / name).rglob("*") if "__pycache__" not in path.parts]
        for path in sorted([root / name, *inside]):
            if path.is_file():
                digest.update(f"{path.relative_to(root)}\0{path.stat().st_size}\0".encode())
                digest.update(path.read_bytes())
    return digest.hexdigest()


def learn_reach(layer: str, copy: Path) -> Reach:
    data_file = copy / f".coverage-{layer}"
    measured = (f"--cov=planner/{layer}", "--cov-context=test", "--cov-report=")
    timed = ("--durations=0", "--durations-min=0", "--tb=short")
    code, output = run_pytest(copy, [f"tests/{layer}"], (*measured, *timed), coverage_file=data_file)
    if code != 0:
        raise MutationError(f"the tests of {layer} fail before anything is changed:\n{output[-2000:]}")
    lines, shared = _lines_run(data_file, copy)
    return Reach(*_durations(output), lines, shared)


def _durations(output: str) -> tuple[dict[str, float], dict[str, float]]:
    """What each test took by itself, and what the fixtures of each file took."""
    seconds: dict[str, float] = defaultdict(float)
    setup_s: dict[str, float] = defaultdict(float)
    for spent, phase, test in re.findall(r"^([\d.]+)s (setup|call|teardown) +(\S.*)$", output, re.MULTILINE):
        seconds[test] += float(spent) if phase != "setup" else 0.0
        setup_s[_file_of(test)] += float(spent) if phase == "setup" else 0.0
    return dict(seconds), dict(setup_s)


def _lines_run(
    data_file: Path, copy: Path
) -> tuple[dict[str, dict[int, tuple[str, ...]]], dict[str, tuple[int, ...]]]:
    data = coverage.CoverageData(str(data_file))
    data.read()
    lines: dict[str, dict[int, tuple[str, ...]]] = {}
    shared: dict[str, tuple[int, ...]] = {}
    for path in data.measured_files():
        file = Path(path).relative_to(copy).as_posix()
        contexts = {
            line: [context.rpartition("|") for context in named]
            for line, named in data.contexts_by_lineno(path).items()
        }
        lines[file] = {
            line: tuple(sorted({test for test, _, _ in named if test})) for line, named in contexts.items()
        }
        shared[file] = tuple(
            line for line, named in contexts.items() if "setup" in {phase for _, _, phase in named}
        )
    return lines, shared


# Running


@dataclass(frozen=True)
class Outcome:
    """What became of a mutant: ``killed``, ``timed out`` (which counts as killed) or ``SURVIVED``, and by what."""

    mutant: Mutant
    layer: str
    verdict: str
    by: str
    seconds: float

    @property
    def is_killed(self) -> bool:
        return self.verdict != "SURVIVED"

    def __str__(self) -> str:
        return f"{self.verdict:9}  {self.mutant}" + (f"  by {self.by}" if self.by else "")


@contextmanager
def copies_of(root: Path, count: int) -> Iterator[list[Path]]:
    """So many scratch copies of the tree."""
    with tempfile.TemporaryDirectory(prefix="mutate-") as folder:
        copies = [Path(folder).resolve() / str(number) for number in range(count)]
        for copy in copies:
            shutil.copytree(root, copy, ignore=LEFT_OUT)
        yield copies


def run_pytest(
    copy: Path,
    tests: Sequence[str],
    options: Sequence[str] = (),
    limit_s: float | None = None,
    coverage_file: Path | None = None,
) -> tuple[int | None, str]:
    """The exit code of pytest in a copy, None past the time limit; and what it printed.

    The output goes to a file: a pipe would stay open, and we with it, as long as any child of a test that
    was cut off.
    """
    ours = ("PYTEST", "COV", "PYTHONPATH")
    env = {name: value for name, value in os.environ.items() if not name.startswith(ours)}
    env |= {"PYTHONPATH": str(copy), "PYTHONHASHSEED": "0", "PYTHONUTF8": "1"}
    env |= {"PYTHONPYCACHEPREFIX": str(copy / COMPILED)}
    if coverage_file:
        env["COVERAGE_FILE"] = str(coverage_file)
    command = [sys.executable, "-m", "pytest", f"--rootdir={copy}", *QUIET, *REPEATABLE, *options, *tests]
    with (copy / ".output").open("w+", encoding="utf-8") as output:
        process = subprocess.Popen(command, cwd=copy, env=env, stdout=output, stderr=subprocess.STDOUT)
        _limit_memory(process.pid)
        try:
            code: int | None = process.wait(limit_s)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
            code = None
        output.seek(0)
        return code, output.read()


def _limit_memory(pid: int) -> None:
    """A loop without an end may fill the memory long before its time is up."""
    if sys.platform == "linux":
        import resource

        resource.prlimit(pid, resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES))


@contextmanager
def changed(copy: Path, mutant: Mutant) -> Iterator[None]:
    """The copy with one mutant in it.

    The compiled file goes each time: it is told by size and whole second, which two mutants may share.
    """
    path = copy / mutant.file
    original = path.read_bytes()
    try:
        _forget_compiled(copy, path)
        path.write_bytes(mutant.applied(original))
        yield
    finally:
        path.write_bytes(original)
        _forget_compiled(copy, path)


def _forget_compiled(copy: Path, path: Path) -> None:
    """Wherever this process keeps its own, the tests of a copy and the programs they start keep theirs in it."""
    for compiled in (copy / COMPILED).rglob(f"{path.stem}.*.pyc"):
        compiled.unlink()


def judge(mutant: Mutant, copy: Path, layer: str, tests: Sequence[str], limit_s: float) -> Outcome:
    """Run the tests on one mutant until the first that notices.

    Where the mutant changes the very names of tests, their whole files are run.
    """
    begun = time.monotonic()
    with changed(copy, mutant):
        code, output = run_pytest(copy, tests, ("-x",), limit_s)
        if code == pytest.ExitCode.USAGE_ERROR:
            files = tuple(dict.fromkeys(map(_file_of, tests)))
            code, output = run_pytest(copy, files, ("-x",), limit_s)
    if code == pytest.ExitCode.NO_TESTS_COLLECTED:
        raise MutationError(f"no test was run for {mutant}:\n{output[-2000:]}")
    verdict = {None: "timed out", 0: "SURVIVED"}.get(code, "killed")
    noticed = re.search(r"^(?:FAILED|ERROR) (.*?)(?: - .*)?$", output, re.MULTILINE)
    by = noticed[1] if noticed else "" if verdict != "killed" else "the tests do not load"
    return Outcome(mutant, layer, verdict, by, round(time.monotonic() - begun, 1))


def judge_all(
    mutants: Sequence[Mutant], reaches: Mapping[str, Reach], copies: Sequence[Path], by_all: bool = False
) -> Iterator[Outcome]:
    """The outcomes as they come, as many side by side as there are copies."""
    free: queue.SimpleQueue[Path] = queue.SimpleQueue()
    for copy in copies:
        free.put(copy)

    def one(mutant: Mutant) -> Outcome:
        layer = layer_of(mutant.file)
        tests = reaches[layer].tests_for(mutant, by_all)
        copy = free.get()
        try:
            limit_s = TIMES_UNCHANGED * reaches[layer].time_for(tests) + GRACE_S
            return judge(mutant, copy, layer, tests, limit_s)
        finally:
            free.put(copy)

    pool = ThreadPoolExecutor(len(copies))
    try:
        for done in as_completed([pool.submit(one, mutant) for mutant in mutants]):
            yield done.result()
    finally:
        pool.shutdown(cancel_futures=True)


# Which mutants


def layer_of(file: str) -> str:
    parts = Path(file).parts
    if len(parts) < 3 or parts[0] != "planner" or parts[1] not in LAYERS:
        raise MutationError(f"{file} lies in no layer judged here: " + ", ".join(LAYERS))
    return parts[1]


def layer_mutants(root: Path, layer: str) -> list[Mutant]:
    """Every mutant of a layer, sorted by file and position."""
    paths = sorted((root / "planner" / layer).rglob("*.py"))
    return sorted(
        mutant
        for path in paths
        for mutant in mutants_of(path.relative_to(root).as_posix(), path.read_bytes())
    )


def without_equivalent(
    mutants: Iterable[Mutant], equivalent: Mapping[tuple[str, str, str], str]
) -> list[Mutant]:
    return [mutant for mutant in mutants if mutant.key not in equivalent]


def outdated(
    mutants: Iterable[Mutant], equivalent: Mapping[tuple[str, str, str], str], layer: str
) -> list[tuple[str, str, str]]:
    """The entries on a layer that match no mutant any more."""
    made = {mutant.key for mutant in mutants}
    return [key for key in equivalent if layer_of(key[0]) == layer and key not in made]


def draw(mutants: Sequence[Mutant], count: int, seed: str) -> list[Mutant]:
    """A sample, each time a function at random and a mutant in it, at most one a line.

    The first n of a larger sample are the sample of n.
    """
    chance = random.Random(seed)
    left, drawn = sorted(mutants), list[Mutant]()
    while left and len(drawn) < count:
        units: dict[tuple[str, str], list[Mutant]] = defaultdict(list)
        for mutant in left:
            units[mutant.file, mutant.unit].append(mutant)
        drawn.append(chance.choice(units[chance.choice(sorted(units))]))
        taken = drawn[-1].file, drawn[-1].line
        left = [mutant for mutant in left if (mutant.file, mutant.line) != taken]
    return drawn


def by_hand(root: Path, listed: Path) -> list[Mutant]:
    """The mutants of a TOML list: the ``nth`` place where ``before`` stands in ``file`` becomes ``after``."""
    rows = tomllib.loads(listed.read_text(encoding="utf-8"))["mutant"]
    return [_named(root, **row) for row in rows]


def _named(root: Path, file: str, before: str, after: str, nth: int = 1) -> Mutant:
    layer_of(file)
    content = (root / file).read_bytes()
    places = [found.start() for found in re.finditer(re.escape(before.encode()), content)]
    if not 1 <= nth <= len(places):
        raise MutationError(f"{file} holds {len(places)} times, not {nth}: {before}")
    start = places[nth - 1]
    end = start + len(before.encode())
    mutant = Source(file, content).mutant(start, end, "by hand", after, unit="", at_import=False)
    try:
        ast.parse(mutant.applied(content))
    except SyntaxError as problem:
        raise MutationError(f"{mutant} is no Python: {problem.msg}") from problem
    return mutant


# What is said


def table(outcomes: Sequence[Outcome]) -> str:
    """A row a layer, then the survivors."""
    rows = [f"{'layer':10}{'mutants':>9}{'killed':>8}{'share':>8}"]
    for layer in dict.fromkeys(outcome.layer for outcome in outcomes):
        of_layer = [outcome for outcome in outcomes if outcome.layer == layer]
        killed = sum(outcome.is_killed for outcome in of_layer)
        rows.append(f"{layer:10}{len(of_layer):9}{killed:8}{killed_share(of_layer):8.0%}")
    rows += [f"  {outcome}" for outcome in outcomes if not outcome.is_killed]
    return "\n".join(rows)


def killed_share(outcomes: Sequence[Outcome]) -> float:
    return sum(outcome.is_killed for outcome in outcomes) / len(outcomes)


def as_json(outcomes: Iterable[Outcome], seed: str) -> str:
    rows = [
        {
            "layer": outcome.layer,
            "file": outcome.mutant.file,
            "line": outcome.mutant.line,
            "kind": outcome.mutant.kind,
            "before": outcome.mutant.before,
            "after": outcome.mutant.after,
            "verdict": outcome.verdict,
            "by": outcome.by,
            "seconds": outcome.seconds,
        }
        for outcome in outcomes
    ]
    return json.dumps({"seed": seed, "mutants": rows}, indent=1) + "\n"


# The command


def main(arguments: Sequence[str] | None = None, root: Path = ROOT) -> int:
    options = _parser().parse_args(arguments)
    try:
        with copies_of(root, options.jobs) as copies:
            return _run(options, copies)
    except MutationError as problem:
        print(f"mutate: {problem}", file=sys.stderr)
        return 2


def _parser() -> argparse.ArgumentParser:
    assert __doc__
    parser = argparse.ArgumentParser(
        prog="mutate", description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    add = parser.add_argument
    add("--layers", type=_layers, default=LAYERS, help="some of " + ",".join(LAYERS))
    add("--per-layer", type=int, default=PER_LAYER, metavar="N", help="mutants a layer (%(default)s)")
    add("--seed", default=str(SEED), help="of the sample (%(default)s)")
    add("--jobs", type=int, default=os.cpu_count() or 1, metavar="N", help="side by side (%(default)s)")
    add(
        "--cache",
        type=Path,
        default=Path(tempfile.gettempdir()) / "skepway-mutate",
        metavar="FOLDER",
        help="where to keep what each test runs",
    )
    add("--json", type=Path, metavar="FILE", help="write the outcomes")
    which = parser.add_mutually_exclusive_group()
    which.add_argument("--list", action="store_true", help="print the sample, run nothing of it")
    which.add_argument("--only", metavar="FILE:LINE", help="every mutant of this line")
    which.add_argument("--patch", type=Path, metavar="FILE", help="the mutants of a TOML list")
    return parser


def _layers(text: str) -> tuple[str, ...]:
    named = tuple(text.split(","))
    if unknown := set(named) - set(LAYERS):
        raise argparse.ArgumentTypeError("no such layer: " + ", ".join(sorted(unknown)))
    return named


def _run(options: argparse.Namespace, copies: Sequence[Path]) -> int:
    mutants, reaches = _chosen(options, copies[0])
    if options.list:
        print(*mutants, sep="\n")
        return 0
    if not mutants:
        raise MutationError("nothing to change there")
    outcomes = []
    for outcome in judge_all(mutants, reaches, copies, by_all=bool(options.patch)):
        print(outcome, flush=True)
        outcomes.append(outcome)
    outcomes.sort(key=lambda outcome: (LAYERS.index(outcome.layer), outcome.mutant))
    print("", table(outcomes), sep="\n")
    if options.json:
        options.json.write_text(as_json(outcomes, options.seed), encoding="utf-8")
    return 0 if is_enough(outcomes, 1.0 if options.patch else ENOUGH_SHARE) else 1


def is_enough(outcomes: Sequence[Outcome], share: float) -> bool:
    """Whether every layer kills its share."""
    layers = {outcome.layer for outcome in outcomes}
    return all(killed_share([one for one in outcomes if one.layer == layer]) >= share for layer in layers)


def _chosen(options: argparse.Namespace, copy: Path) -> tuple[list[Mutant], dict[str, Reach]]:
    """The mutants asked for, and what the tests of their layers run."""
    if options.patch:
        mutants = by_hand(copy, options.patch)
    elif options.only:
        file = options.only.rpartition(":")[0]
        mutants = [
            one for one in layer_mutants(copy, layer_of(file)) if f"{one.file}:{one.line}" == options.only
        ]
    else:
        reaches = {layer: reach_of(layer, copy, options.cache) for layer in options.layers}
        drawn = [_sample(options, copy, layer, reach) for layer, reach in reaches.items()]
        return [mutant for sample in drawn for mutant in sample], reaches
    layers = dict.fromkeys(layer_of(mutant.file) for mutant in mutants)
    return mutants, {layer: reach_of(layer, copy, options.cache) for layer in layers}


def _sample(options: argparse.Namespace, copy: Path, layer: str, reach: Reach) -> list[Mutant]:
    made = layer_mutants(copy, layer)
    for file, before, after in outdated(made, EQUIVALENT, layer):
        print(f"no such mutant any more, strike it from EQUIVALENT: {file}: {before}  ->  {after}")
    counted = [mutant for mutant in without_equivalent(made, EQUIVALENT) if reach.is_run(mutant)]
    print(f"{layer}: {len(made)} mutants, {len(counted)} on lines that tests/{layer} runs", flush=True)
    if unseen := sorted({mutant.file for mutant in made} - {mutant.file for mutant in counted}):
        print(f"{layer}: not one line is run of " + ", ".join(unseen))
    return draw(counted, options.per_layer, f"{options.seed} {layer}")


if __name__ == "__main__":
    sys.exit(main())
