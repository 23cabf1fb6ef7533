"""The mutation run: which mutants it makes of a function, which it draws, and that it leaves the tree as it was."""

from __future__ import annotations

import ast
import json
import os
import sys
from collections.abc import Mapping
from pathlib import Path

import pytest

from tools import mutate
from tools.mutate import Mutant, MutationError, Outcome, Reach

SHUT = '''"""Made up."""

WIDTH_M = 2


def share(used: int, boxes: list[float]) -> float:
    """A number of 3 boxes."""
    if used < 1 and not boxes:
        return -1.5
    return boxes[0] * used + max(boxes)


def untested() -> int:
    return 7
'''
SHUT_TESTS = """from planner.model.shut import share


def test_the_share():
    assert share(2, [3.0, 4.0]) == 10.0
"""
FILE = "planner/model/shut.py"


def made(text: str) -> list[tuple[str, str]]:
    """Kind and changed line of every mutant of a made-up module."""
    return [(mutant.kind, mutant.after) for mutant in mutate.mutants_of(FILE, text.encode())]


def reach(lines: Mapping[int, tuple[str, ...]], shared: tuple[int, ...] = ()) -> Reach:
    """Lines of the made-up module with the tests that run them; test a takes 3 s, b 1 s, c 2 s."""
    seconds = {
        "tests/model/test_x.py::a": 3.0,
        "tests/model/test_x.py::b": 1.0,
        "tests/model/test_y.py::c": 2.0,
    }
    named = {test[-1]: test for test in seconds}
    run = {line: tuple(named[test] for test in some) for line, some in lines.items()}
    return Reach(seconds, {"tests/model/test_x.py": 0.5}, {FILE: run}, {FILE: shared})


def shut(line: int) -> Mutant:
    return next(mutant for mutant in mutate.mutants_of(FILE, SHUT.encode()) if mutant.line == line)


@pytest.fixture
def tree(tmp_path: Path) -> Path:
    """A made-up program of one module with one test."""
    root = tmp_path / "tree"
    for name, text in {
        FILE: SHUT,
        "tests/model/test_shut.py": SHUT_TESTS,
        "planner/__init__.py": "",
        "planner/model/__init__.py": "",
        "pyproject.toml": "[tool.pytest.ini_options]\npythonpath = ['.']\n",
    }.items():
        path = root / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text)
    return root


def test_a_function_gives_these_mutants_and_no_others() -> None:
    """Sorted by position; texts, annotations and the docstring's number stay."""
    assert made(SHUT) == [
        ("constant", "WIDTH_M = 3"),
        ("operator", "if used <= 1 and not boxes:"),
        ("operator", "if used >= 1 and not boxes:"),
        ("constant", "if used < 2 and not boxes:"),
        ("operator", "if used < 1 or not boxes:"),
        ("operator", "if used < 1 and boxes:"),
        ("sign", "return 1.5"),
        ("constant", "return -1.65"),
        ("sign", "return -boxes[0] * used + max(boxes)"),
        ("bound", "return boxes[1] * used + max(boxes)"),
        ("operator", "return boxes[0] / used + max(boxes)"),
        ("operator", "return boxes[0] * used - max(boxes)"),
        ("operator", "return boxes[0] * used + min(boxes)"),
        ("constant", "return 8"),
    ]


@pytest.mark.parametrize(
    ("line", "after"),
    [
        ("a = x[1:-2]", ["a = x[0:-2]", "a = x[2:-2]", "a = x[1:2]", "a = x[1:-1]", "a = x[1:-3]"]),
        ("a = range(n, 5)", ["a = range(n, 4)", "a = range(n, 6)"]),
        ("a = np.minimum(b, c)", ["a = np.maximum(b, c)"]),
        ("a = x ** y // z", ["a = x * y // z", "a = x ** y / z"]),
        ("a += b", ["a -= b"]),
        ("a = 1 - b", ["a = -1 - b", "a = 2 - b", "a = 1 + b"]),
        ("a = -b * c", ["a = b * c", "a = -b / c"]),
        ("a = (b)  -  (c)", ["a = -(b)  -  (c)", "a = (b)  +  (c)"]),
        ("a = b != c <= d", ["a = b == c <= d", "a = b != c < d", "a = b != c > d"]),
        ("a = 'ü' if b == c else d", ["a = 'ü' if b != c else d"]),
        ("a = True", ["a = False"]),
        ("a = 0.0", ["a = 1.0"]),
    ],
)
def test_only_the_one_spot_changes(line: str, after: list[str]) -> None:
    """Blanks and brackets stay; columns count bytes, which letters beyond ASCII take two of."""
    assert sorted(changed for _, changed in made(line)) == sorted(after)


@pytest.mark.parametrize(
    "text",
    [
        'a = f"{b + 1}"',
        "a: tuple[int, 3]",
        "Pair = tuple[3, 4]",
        "@keep(3)\ndef f(x: Literal[1]) -> Literal[2]: ...",
        "__all__ = [3]",
        "a = zip(b, c, strict=True)",
        "a = 'b' + c + d",
        "a = [b] * c",
        "a = folder / 'name'",
        "a = 1e-12",
    ],
)
def test_left_alone(text: str) -> None:
    """What no test can be asked to notice, or what fails on the spot."""
    assert made(text) == []


def test_a_comment_between_operands_is_no_operator() -> None:
    text = "a = (\n    b  # * c +\n    * c\n)"
    assert made(text) == [("sign", "-b  # * c +"), ("operator", "/ c")]


def test_every_mutant_of_a_real_file_is_python_and_says_something_else() -> None:
    content = (mutate.ROOT / "planner/model/walls.py").read_bytes()
    mutants = mutate.mutants_of("planner/model/walls.py", content)
    same = ast.dump(ast.parse(content))
    assert mutants
    assert all(ast.dump(ast.parse(mutant.applied(content))) != same for mutant in mutants)


def test_the_sample_hangs_on_the_seed_alone_and_takes_one_mutant_a_line() -> None:
    mutants = mutate.mutants_of(FILE, SHUT.encode())
    drawn = mutate.draw(mutants, 99, "seed")
    assert sorted(mutant.line for mutant in drawn) == [3, 8, 9, 10, 14]
    assert mutate.draw(mutants[::-1], 3, "seed") == drawn[:3]


def test_functions_are_drawn_evenly_however_long_they_are() -> None:
    """One line against forty: the short function comes first about every second time."""
    long = "def long():\n" + "    a = b < c\n" * 40
    mutants = mutate.mutants_of(FILE, ("def short(): return 1\n" + long).encode())
    first = [mutate.draw(mutants, 1, f"seed {number}")[0].unit for number in range(40)]
    assert 12 <= first.count("short") <= 28


def test_a_line_no_test_runs_is_left_out() -> None:
    known = reach({3: (), 8: ("a",), 13: ()})
    assert [known.is_run(shut(line)) for line in (3, 8, 14)] == [True, True, False]


def test_a_mutant_is_given_the_tests_that_run_its_line_the_quickest_first() -> None:
    known = reach({3: (), 8: ("a", "c"), 9: ("b",)})
    assert [test[-1] for test in known.tests_for(shut(8))] == ["c", "a"]


def test_tests_of_one_file_stay_together() -> None:
    """Else the fixtures of a file would be set up again for each of them: b is the quickest, its file is not."""
    known = reach({8: ("a", "b", "c")})
    assert [test[-1] for test in known.tests_for(shut(8))] == ["c", "b", "a"]


def test_the_time_of_some_tests_holds_the_fixtures_of_their_files() -> None:
    known = reach({})
    assert known.time_for(["tests/model/test_x.py::b", "tests/model/test_y.py::c"]) == 3.5


def test_what_runs_at_import_is_given_every_test_that_runs_the_file() -> None:
    known = reach({3: (), 8: ("a",), 9: ("b",)})
    assert [test[-1] for test in known.tests_for(shut(3))] == ["b", "a"]


def test_what_a_fixture_runs_is_given_the_tests_beside_it_then_all() -> None:
    """A fixture shared by many tests is seen to run in the first of them only."""
    known = reach({8: ("a",)}, shared=(8,))
    assert [test[-1] for test in known.tests_for(shut(8))] == ["a", "b", "c"]
    assert [test[-1] for test in reach({8: ("a",)}).tests_for(shut(8))] == ["a"]


def test_what_a_layer_learns_is_kept_as_it_was() -> None:
    known = reach({8: ("a",)}, shared=(8,))
    assert Reach.from_json(known.as_json()) == known


def test_equivalent_mutants_are_left_out_and_old_entries_named() -> None:
    mutants = mutate.mutants_of(FILE, SHUT.encode())
    known = {
        (FILE, "return 7", "return 8"): "nobody asks",
        (FILE, "return 6", "return 7"): "gone",
        ("planner/app/shut.py", "return 6", "return 7"): "another layer's",
    }
    assert len(mutate.without_equivalent(mutants, known)) == len(mutants) - 1
    assert mutate.outdated(mutants, known, "model") == [(FILE, "return 6", "return 7")]


def test_the_file_is_itself_again_whatever_happens(tree: Path) -> None:
    def stop() -> None:
        with mutate.changed(tree, shut(9)):
            assert "return 1.5\n" in (tree / FILE).read_text()
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        stop()
    assert (tree / FILE).read_text() == SHUT


def test_a_mutant_of_one_size_in_the_same_second_is_not_run_from_the_old_compiled_file(
    tree: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Wherever the process that asks keeps its own compiled files."""
    monkeypatch.setattr(mutate, "REPEATABLE", ("-p", "no:hypothesispytest", "-p", "no:pytest-qt"))
    monkeypatch.setattr(sys, "pycache_prefix", str(tmp_path / "elsewhere"))
    monkeypatch.delenv("PYTHONDONTWRITEBYTECODE", raising=False)
    path, tests = tree / FILE, ["tests/model/test_shut.py"]
    second = path.stat().st_mtime
    assert mutate.run_pytest(tree, tests)[0] == 0
    (mutant,) = (m for m in mutate.mutants_of(FILE, SHUT.encode()) if m.after.endswith("- max(boxes)"))
    with mutate.changed(tree, mutant):
        assert path.stat().st_size == len(SHUT)
        os.utime(path, (second, second))
        assert mutate.run_pytest(tree, tests)[0] == 1


def test_a_mutant_made_by_hand_is_the_nth_place_of_its_text(tree: Path) -> None:
    listed = tree / "mutants.toml"
    listed.write_text(f'[[mutant]]\nfile = "{FILE}"\nbefore = "used"\nafter = "-used"\nnth = 3\n')
    (mutant,) = mutate.by_hand(tree, listed)
    assert (mutant.line, mutant.after) == (10, "return boxes[0] * -used + max(boxes)")


@pytest.mark.parametrize(
    ("row", "said"),
    [
        (f'file = "{FILE}"\nbefore = "nowhere"\nafter = ""', "holds 0 times"),
        (f'file = "{FILE}"\nbefore = "return 7"\nafter = "return 7 +"', "is no Python"),
        ('file = "planner/ui/board.py"\nbefore = "a"\nafter = "b"', "lies in no layer"),
    ],
)
def test_a_mutant_made_by_hand_that_fits_nowhere_is_refused(tree: Path, row: str, said: str) -> None:
    listed = tree / "mutants.toml"
    listed.write_text(f"[[mutant]]\n{row}\n")
    with pytest.raises(MutationError, match=said):
        mutate.by_hand(tree, listed)


def test_every_layer_must_kill_its_share() -> None:
    """85 % of model alone would do; one survivor of one in store does not."""
    model = [Outcome(shut(8), "model", verdict, "", 0.0) for verdict in ["killed"] * 17 + ["SURVIVED"] * 3]
    store = [Outcome(shut(8), "store", verdict, "", 0.0) for verdict in ("timed out", "SURVIVED")]
    assert mutate.is_enough(model, 0.85)
    assert not mutate.is_enough([*model, Outcome(shut(8), "model", "SURVIVED", "", 0.0)], 0.85)
    assert not mutate.is_enough([*model, *store], 0.85)
    assert "store             2       1     50%" in mutate.table([*model, *store])


def test_a_whole_run_says_what_was_killed_by_what_and_touches_nothing(
    tree: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Both halves of a run once: learning what the test runs, judging the one mutant drawn."""
    monkeypatch.setattr(
        mutate, "REPEATABLE", ("-p", "no:hypothesispytest", "-p", "no:pytest-qt")
    )  # start sooner
    before = {path: path.read_bytes() for path in tree.rglob("*") if path.is_file()}
    kept, written = tmp_path / "kept", tmp_path / "outcomes.json"
    options = ["--layers", "model", "--per-layer", "1", "--jobs", "1", "--seed", "0"]
    code = mutate.main([*options, "--cache", str(kept), "--json", str(written)], tree)
    (row,) = json.loads(written.read_text())["mutants"]
    (known,) = [Reach.from_json(path.read_text()) for path in kept.iterdir()]
    test = "tests/model/test_shut.py::test_the_share"
    assert (code, row["line"], row["verdict"], row["by"]) == (0, 10, "killed", test)
    assert known.lines[FILE] == {1: (), 3: (), 6: (), 8: (test,), 10: (test,), 13: ()}
    assert {path: path.read_bytes() for path in tree.rglob("*") if path.is_file()} == before
