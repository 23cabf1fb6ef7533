"""Write the invented season as a bundle: ``python tools/make_season.py FILE.zip``, to be taken in by any logbook."""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from planner.app.lessons.demo import demo_logbook
from planner.store.logbook.bundle import export


def main() -> int:
    with tempfile.TemporaryDirectory() as folder:
        count = export(demo_logbook(Path(folder)), Path(sys.argv[1]))
    print(f"{sys.argv[1]}: {count} events")
    return 0


if __name__ == "__main__":
    sys.exit(main())
