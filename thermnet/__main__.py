"""`python -m thermnet` is the command `thermnet`."""

from __future__ import annotations

import sys

from thermnet.cli.main import main

if __name__ == "__main__":
    sys.exit(main())
