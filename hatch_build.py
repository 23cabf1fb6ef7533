"""What the build backend does beside packing: it builds the compiled march, and goes on without where it cannot."""

from __future__ import annotations

import sys
import sysconfig
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface

ROOT = Path(__file__).resolve().parent


class CustomBuildHook(BuildHookInterface):
    """Puts the library into the wheel, which then fits any Python 3 on this kind of machine."""

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        if self.target_name != "wheel":
            return
        sys.path.insert(0, str(ROOT / "tools"))
        import march

        made, said = march.build()
        self.app.display_info(said)
        if made and version != "editable":
            build_data["force_include"][str(march.BUILT)] = f"planner/model/kernel/{march.BUILT.name}"
            build_data["pure_python"] = False
            build_data["tag"] = f"py3-none-{sysconfig.get_platform().replace('-', '_').replace('.', '_')}"
