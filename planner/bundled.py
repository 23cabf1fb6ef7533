"""Where the bundled data files lie, in a checkout as in an installed wheel."""

from __future__ import annotations

from pathlib import Path

import planner
from planner.errors import StorageError

_PACKAGE = Path(planner.__file__).resolve().parent
_MARK = "trip.schema.json"


def resource_folder(package: Path = _PACKAGE) -> Path:
    """Folder of the bundled resources: inside the package when installed, beside it in a checkout."""
    for folder in (package / "resources", package.parent / "resources"):
        if (folder / _MARK).is_file():
            return folder
    raise StorageError(
        f"The data files of Skepway are missing beside {package}; the installation is broken. Install again."
    )


def resource_path(*parts: str) -> Path:
    """Path of one bundled file, e.g. ``resource_path("demo", "night-pollination", "trip.toml")``."""
    return resource_folder().joinpath(*parts)
