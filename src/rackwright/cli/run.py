"""Running a command: from words to an exit status, with no traceback on the way."""

import contextlib
import io
import sys
from collections.abc import Sequence

import click

from rackwright.cli import INTERRUPTED, USAGE
from rackwright.cli.commands import Refusal, commands
from rackwright.cli.page import SPELLED_OUT, Unheard


def run(words: Sequence[str] | None = None) -> int:
    """Run the command; what is wrong is told on standard error."""
    _bear_any_sign()
    try:
        status = commands.main(words, prog_name="rackwright", standalone_mode=False)
    except click.UsageError as error:
        error.show()
        return USAGE
    except Refusal as error:
        click.echo(error.message, err=True)
        return error.status
    except Unheard as error:
        return _unheard(error)
    except click.Abort:
        return INTERRUPTED
    return status if isinstance(status, int) else 0


def _bear_any_sign() -> None:
    """Let a stream that knows no Ω print `ohm` instead of failing."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors=SPELLED_OUT)


def _unheard(error: Unheard) -> int:
    if error.reason:
        with contextlib.suppress(OSError):
            click.echo(f"The output can't be written: {error.reason}.", err=True)
    return error.status
