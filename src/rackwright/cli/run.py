"""Running a command: from words to an exit status, with no traceback on the way."""

import io
import os
import shlex
import sys
from collections.abc import Sequence
from importlib import import_module

import click

from rackwright.cli.group import commands
from rackwright.cli.opening import Refusal
from rackwright.cli.page import Unheard, stop_if_unheard, tell
from rackwright.cli.status import COMPLETING, FAILED, INTERRUPTED, UNUSABLE, USAGE
from rackwright.store.home import HomeError


def run(words: Sequence[str] | None = None) -> int:
    """Run the command; what is wrong is told on standard error."""
    try:
        return _ended(words)
    except click.UsageError as error:
        said = io.StringIO()
        error.show(said)
        tell(said.getvalue().rstrip("\n"))
        return USAGE
    except Refusal as error:
        tell(error.message)
        return error.status
    except HomeError as error:
        tell(str(error))
        return UNUSABLE
    except Unheard as error:
        if error.reason:
            tell(f"The output can't be written: {error.reason}.")
        return error.status
    except click.Abort:
        return INTERRUPTED
    except Exception as error:
        from rackwright.store import log

        tell(log.sentence(shlex.join(["rackwright", *(sys.argv[1:] if words is None else words)]), error))
        return FAILED


def _ended(words: Sequence[str] | None) -> int:
    if COMPLETING in os.environ:
        import_module("rackwright.cli.completion")
        sys.stderr = None  # nobody wants to read on the line being typed what is wrong
    try:
        status = commands.main(words, prog_name="rackwright", standalone_mode=False)
    except OSError:
        if sys.stdout is not None:
            stop_if_unheard()  # help is written by click, which fails where the output does
        raise
    return status if isinstance(status, int) else 0
