"""Run the command line with ``python -m splitterfem``."""

from __future__ import annotations

import sys

from splitterfem.cli import main

if __name__ == "__main__":
    sys.exit(main())
