"""Which march is in use: the compiled one only when it is whole, of this source, and knows every term."""

from __future__ import annotations

import importlib.util
import os
import shutil
import subprocess
import sys
from pathlib import Path
from types import ModuleType, SimpleNamespace
from typing import Any

import pytest

from planner.model.kernel import library, terms
from planner.model.kernel.library import Library, Refused

ROOT = Path(__file__).parents[2]
COMPILED = library.library()
needs_it = pytest.mark.skipif(not isinstance(COMPILED, Library), reason="the compiled march was not built")


def march_tool() -> ModuleType:
    spec = importlib.util.spec_from_file_location("march_tool", ROOT / "tools" / "march.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_kernel_tells_every_term_of_the_numpy_march() -> None:
    """Who changes a term tells it again in the kernel, and then runs: python tools/march.py --terms"""
    told = terms.told()
    assert march_tool().reached() == set(told)
    assert terms.changed(told) == []


def test_a_term_is_its_code_and_not_its_words(tmp_path: Path) -> None:
    before, reworded, changed = (
        marks(tmp_path, text)
        for text in (
            'def law(x: float) -> float:\n    """One."""\n    return 2.0 * x\n',
            'def law(\n    x: float,\n) -> float:\n    """Two."""\n    # why\n    return 2.0 * x\n',
            'def law(x: float) -> float:\n    """One."""\n    return 2.1 * x\n',
        )
    )
    assert before == reworded
    assert before != changed


def marks(folder: Path, text: str) -> dict[str, str]:
    (folder / "laws.py").write_text(text)
    return terms.marks_of(folder / "laws.py")


def test_constants_records_and_functions_are_terms(tmp_path: Path) -> None:
    text = (
        "A, B = 1.0, 2.0\nC: float = 3.0\n\n\n@frozen\nclass D:\n    e = 1\n\n\ndef f() -> None:\n    g = 2\n"
    )
    assert set(marks(tmp_path, text)) == {"laws.A", "laws.B", "laws.C", "laws.D", "laws.f"}


def test_a_library_that_is_not_there_is_refused_in_words(tmp_path: Path) -> None:
    assert library.opened(tmp_path / "march.so") == Refused("it was not built here")


def test_a_library_that_is_none_is_refused_in_words(tmp_path: Path) -> None:
    (tmp_path / "march.so").write_bytes(b"no library")
    assert library.opened(tmp_path / "march.so") == Refused("it cannot be loaded (OSError)")


@needs_it
def test_a_library_of_an_older_source_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(library, "source_hash", lambda: "newer")
    assert library.opened(library.FOLDER / library.NAME) == Refused("it was built from another source")


@needs_it
def test_a_library_that_does_not_know_a_term_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(terms, "told", lambda: {"balance.rates": "older"})
    assert library.opened(library.FOLDER / library.NAME) == Refused(
        "it does not know the present balance.rates"
    )


@needs_it
def test_every_name_the_kernel_asks_for_is_there() -> None:
    """A field renamed in Python is found when it is handed over, not guessed."""
    from planner.model.balance import Forcing, Rates, State
    from planner.model.boxes import Boxes
    from planner.model.loading_places import LocalAir
    from planner.model.parameters import NAMES

    assert isinstance(COMPILED, Library)
    assert set(COMPILED.fields["boxes"]) <= set(Boxes.__dataclass_fields__)
    assert set(COMPILED.fields["parameters"]) <= set(NAMES)
    assert set(COMPILED.fields["air"]) == set(LocalAir.__dataclass_fields__)
    assert COMPILED.fields["state"] == State._fields
    assert COMPILED.fields["forcing"] == Forcing._fields
    assert COMPILED.fields["rates"] == Rates._fields


def test_the_switch_leaves_the_compiled_march_aside() -> None:
    code = "from planner.model.kernel.library import in_use; print(in_use())"
    found = subprocess.run(
        [sys.executable, "-c", code],
        env={**os.environ, "PYTHONPATH": str(ROOT), library.SWITCH: "numpy"},
        capture_output=True,
        text=True,
        check=True,
    )
    assert found.stdout.startswith("The numpy march is in use")


def test_a_machine_without_a_compiler_goes_on_with_numpy(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    tool = march_tool()
    monkeypatch.setattr(tool, "compilers", lambda: iter(()))
    made, said = tool.build(tmp_path / library.NAME)
    assert not made
    assert said == (
        "The numpy march is in use, which gives the same answers more slowly (no C compiler was found)."
    )


def test_a_broken_compiler_is_named_with_what_it_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    tool = march_tool()
    broken = [sys.executable, "-c", "import sys; sys.exit('fatal error: no header')"]
    monkeypatch.setattr(tool, "compilers", lambda: iter([broken]))
    made, said = tool.build(tmp_path / library.NAME)
    assert not made
    assert "fatal error: no header" in said
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(shutil.which("cc") is None, reason="no compiler here")
def test_a_missing_header_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A compiler without the headers of its system, as after half an install."""
    tool = march_tool()
    monkeypatch.setattr(tool, "compilers", lambda: iter([["cc", "-nostdinc"]]))
    made, said = tool.build(tmp_path / library.NAME)
    assert not made
    assert "stdint.h" in said
    assert list(tmp_path.iterdir()) == []


@needs_it
@pytest.mark.skipif(sys.platform != "linux", reason="the header of an ELF file is changed")
def test_a_library_for_another_processor_is_refused_in_words(tmp_path: Path) -> None:
    """As in a folder copied from another machine."""
    foreign = bytearray((library.FOLDER / library.NAME).read_bytes())
    foreign[18:20] = (0x28).to_bytes(2, "little")  # 32-bit ARM
    (tmp_path / library.NAME).write_bytes(foreign)
    assert library.opened(tmp_path / library.NAME) == Refused("it cannot be loaded (OSError)")


# -- packing -------------------------------------------------------------------------------------


def packed(
    monkeypatch: pytest.MonkeyPatch, *, made: bool, target: str = "wheel", version: str = "standard"
) -> tuple[dict[str, Any], list[str]]:
    """What the hook tells the build backend, and what it says; the backend is stood in for."""
    plugin: Any = ModuleType("hatchling.builders.hooks.plugin.interface")
    plugin.BuildHookInterface = object
    for name in (
        "hatchling",
        "hatchling.builders",
        "hatchling.builders.hooks",
        "hatchling.builders.hooks.plugin",
    ):
        monkeypatch.setitem(sys.modules, name, ModuleType(name))
    monkeypatch.setitem(sys.modules, plugin.__name__, plugin)
    tool: Any = march_tool()
    tool.build = lambda: (made, "which march is in use")
    monkeypatch.setitem(sys.modules, "march", tool)
    spec = importlib.util.spec_from_file_location("hatch_build", ROOT / "hatch_build.py")
    assert spec is not None
    assert spec.loader is not None
    hook = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(hook)
    said: list[str] = []
    data: dict[str, Any] = {"force_include": {}, "pure_python": True}
    backend = SimpleNamespace(target_name=target, app=SimpleNamespace(display_info=said.append))
    hook.CustomBuildHook.initialize(backend, version, data)
    return data, said


def test_a_wheel_brings_the_kernel_and_names_its_kind_of_machine(monkeypatch: pytest.MonkeyPatch) -> None:
    data, said = packed(monkeypatch, made=True)
    assert list(data["force_include"].values()) == [f"planner/model/kernel/{library.NAME}"]
    assert not data["pure_python"]
    assert data["tag"].startswith("py3-none-")
    assert said == ["which march is in use"]


def test_without_a_compiler_the_wheel_is_pure_and_the_build_goes_on(monkeypatch: pytest.MonkeyPatch) -> None:
    data, said = packed(monkeypatch, made=False)
    assert data == {"force_include": {}, "pure_python": True}
    assert said == ["which march is in use"]


def test_a_source_archive_asks_for_no_compiler(monkeypatch: pytest.MonkeyPatch) -> None:
    assert packed(monkeypatch, made=True, target="sdist") == ({"force_include": {}, "pure_python": True}, [])
