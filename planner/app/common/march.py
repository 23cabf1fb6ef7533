"""Which of the two marches does the work, for those who ask."""

from __future__ import annotations

from planner.model.kernel.library import in_use

__all__ = ["in_use"]
