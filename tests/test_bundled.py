"""The bundled files are found wherever the program was installed from."""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.bundled import resource_folder, resource_path
from planner.errors import StorageError


def test_a_checkout_keeps_its_resources_beside_the_package(tmp_path: Path) -> None:
    (tmp_path / "planner").mkdir()
    (tmp_path / "resources").mkdir()
    (tmp_path / "resources" / "trip.schema.json").write_text("{}")
    assert resource_folder(tmp_path / "planner") == tmp_path / "resources"


def test_an_installed_wheel_keeps_its_resources_inside_the_package(tmp_path: Path) -> None:
    inside = tmp_path / "planner" / "resources"
    inside.mkdir(parents=True)
    (inside / "trip.schema.json").write_text("{}")
    (tmp_path / "resources").mkdir()
    assert resource_folder(tmp_path / "planner") == inside


def test_a_broken_installation_is_explained(tmp_path: Path) -> None:
    with pytest.raises(StorageError, match="Install again"):
        resource_folder(tmp_path / "planner")


def test_this_installation_has_its_resources() -> None:
    assert resource_path("box_types.toml").is_file()
