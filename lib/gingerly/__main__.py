"""``python -m gingerly`` is the command line."""

import sys

from gingerly.cli import main

if __name__ == "__main__":
    sys.exit(main())
