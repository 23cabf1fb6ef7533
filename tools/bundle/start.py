"""What the bundle starts: the window without arguments, the command line with."""

import multiprocessing
import sys

from planner.__main__ import main

if __name__ == "__main__":
    multiprocessing.freeze_support()  # a season chart works in processes that start this very file again
    sys.exit(main())
