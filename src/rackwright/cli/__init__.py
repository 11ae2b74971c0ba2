"""The `rackwright` command. Thin: opens what is asked for, calls the engine, prints.

Nothing heavy is imported until a command needs it.
"""

import sys
from collections.abc import Sequence

from rackwright.cli.status import INTERRUPTED


def main(words: Sequence[str] | None = None) -> None:
    """Run the command of these words, or of the command line; every ending is a status and, at most, a sentence."""
    try:
        from rackwright.cli.run import run

        status = run(words)
    except KeyboardInterrupt:
        status = INTERRUPTED
    sys.exit(status)
