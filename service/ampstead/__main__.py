"""``python -m ampstead``: the command, where its own name is not on the path."""

import sys

from ampstead.cli import main

if __name__ == "__main__":
    sys.exit(main())
