"""How long a test that could go on for ever does: shortly every time, at its full length with the slow tests."""

from __future__ import annotations

from typing import Any

import pytest


def few_or_all(few: int, whole: int) -> list[Any]:
    """Two numbers of examples, trips or seeds to parametrise a test with; the whole of them is slow.

    What ``few`` misses in one run the slow tests find: chance begins anew each time where a property is tried, so that
    the few of many runs add up to more than the whole.
    """
    return [
        pytest.param(few, id=f"{few} of {whole}"),
        pytest.param(whole, id=f"all {whole}", marks=pytest.mark.slow),
    ]
