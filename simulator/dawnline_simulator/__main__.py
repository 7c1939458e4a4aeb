"""`python -m dawnline_simulator`."""

from __future__ import annotations

import sys

from dawnline_simulator.cli import main

if __name__ == "__main__":
    sys.exit(main())
