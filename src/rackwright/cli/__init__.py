"""The `rackwright` command. Thin: opens what is asked for, calls the engine, prints.

Nothing heavy is imported until a command needs it.
"""

import sys
from collections.abc import Sequence

USAGE, UNUSABLE, INTERRUPTED = 64, 3, 130
"""Exit status: the command's words are off (EX_USAGE of sysexits.h); a file can't be used; Ctrl-C."""


def main(words: Sequence[str] | None = None) -> None:
    """Run the command of these words, or of the command line; every ending is a status and, at most, a sentence."""
    try:
        from rackwright.cli.run import run

        status = run(words)
    except KeyboardInterrupt:
        status = INTERRUPTED
    sys.exit(status)
