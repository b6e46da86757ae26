"""``python -m scenarios VERB ...`` is the command ``graftwright VERB ...``."""

import sys

from scenarios.commands.command_line import main

if __name__ == "__main__":
    sys.exit(main())
