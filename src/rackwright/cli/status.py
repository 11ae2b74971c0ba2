"""The exit statuses, and what each tells: the one table for `--help` and the README."""

from typing import Literal, TypeAlias

Worst: TypeAlias = Literal["note", "warn", "stop"] | None

USAGE, UNUSABLE, FAILED, CANT_WRITE, INTERRUPTED, BROKEN_PIPE = 64, 3, 70, 74, 130, 141
"""64, 70 and 74 as in sysexits.h; 130 and 141 as a shell tells SIGINT and SIGPIPE."""

COMPLETING = "_RACKWRIGHT_COMPLETE"
"""What a shell sets when it asks how a word may go on; click names it so."""

STATUSES = {
    0: "done; of check: nothing above a note; of meter: all that was tested is as expected",
    1: "check: a warning; diff: a difference; meter: wrong, not proved or drifted; "
    "diagnose: no cause agrees; recover: something stays silent; "
    "rehearse: one failure silences a cabinet of priority 1 for good",
    2: "check: a stop",
    UNUSABLE: "a file can't be used",
    USAGE: "an argument or option is wrong",
    FAILED: "the program failed: what happened is in log.txt",
    CANT_WRITE: "the output can't be written",
    INTERRUPTED: "ctrl+c",
    BROKEN_PIPE: "the reader of a pipe has gone",
}


def of_verdict(worst: Worst) -> int:
    """The status that tells the gravest finding."""
    return {None: 0, "note": 0, "warn": 1, "stop": 2}[worst]
