"""From what is heard to what has failed: every single fault with what it does to every section, and those that agree.

`diagnose` takes a table and answers; `answers` reads these, `faults` makes the table, `checks` are what to look at next.
"""

from rackwright.engine.diagnosis.answers import (
    HEARD,
    SIDES,
    AnswerError,
    Word,
    asked_for,
    kept,
    read_answer,
    words_for,
)
from rackwright.engine.diagnosis.checks import OUTCOMES, Check, check_of, kept_found, read_found, shows
from rackwright.engine.diagnosis.diagnose import (
    Diagnosis,
    NextTest,
    Split,
    Suspect,
    advice,
    diagnose,
    grouped,
    likely,
    whichever,
)
from rackwright.engine.diagnosis.faults import Cause, Table

__all__ = [
    "HEARD",
    "OUTCOMES",
    "SIDES",
    "AnswerError",
    "Cause",
    "Check",
    "Diagnosis",
    "NextTest",
    "Split",
    "Suspect",
    "Table",
    "Word",
    "advice",
    "asked_for",
    "check_of",
    "diagnose",
    "grouped",
    "kept",
    "kept_found",
    "likely",
    "read_answer",
    "read_found",
    "shows",
    "whichever",
    "words_for",
]
