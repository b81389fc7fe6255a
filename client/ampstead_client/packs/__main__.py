"""`python -m ampstead_client.packs`: the command, where its own name is not on the path."""

import sys

from ampstead_client.packs.command import main

if __name__ == "__main__":
    sys.exit(main())
