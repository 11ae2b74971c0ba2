"""A finding: a judgement with its figure, and the limit that the figure is past.

Holds no limit and judges nothing: `limits` and `findings` do.
"""

import re
from collections.abc import Sequence
from typing import Literal, TypeAlias

from msgspec import Struct

from rackwright.units.wording import few, so_many

Severity: TypeAlias = Literal["stop", "warn", "note"]
SEVERITIES: tuple[Severity, ...] = ("stop", "warn", "note")
_COUNTED = {"stop": "stop", "warn": "warning", "note": "note"}


WHICH = "rackwright circuits shows which"
WHERE = "rackwright circuits shows where they can go"
IN_ORDER = "in the order that rackwright circuits shows"
PLANS = "Run rackwright recover for plans, or press R in the console"
"""How what is advised is done or found out with commands; the console puts its keys in their place."""


def graver(one: Severity, other: Severity | None) -> bool:
    """Whether one severity is graver than the other; than nothing each is."""
    return other is None or SEVERITIES.index(one) < SEVERITIES.index(other)


def counted(number: int, severity: Severity) -> str:
    """So many findings of a severity in words: `0 stops`, `1 warning`."""
    return so_many(number, _COUNTED[severity])


class Limit(Struct, frozen=True, gc=False):
    """What a figure is held against."""

    bound: Literal["at least", "at most"]
    value: float
    why: str
    """Whose limit it is."""

    def margin(self, figure: float) -> float:
        """How far inside the limit a figure is: 1 with all to spare, 0 at the limit, below 0 past it."""
        if self.bound == "at most":
            return 1 - figure / self.value if self.value else (0.0 if figure <= 0 else -1.0)
        return 1 - self.value / figure if figure > 0 else -1.0

    def broken_by(self, figure: float) -> bool:
        """Whether a figure is past the limit, by more than rounding makes of a figure that is at it."""
        slack = 1e-9 * abs(self.value)
        return figure > self.value + slack if self.bound == "at most" else figure < self.value - slack


class Finding(Struct, frozen=True, gc=False):
    """A judgement: what is wrong at a place, how bad it is, and what to do."""

    code: str
    severity: Severity
    at: str
    """Id of a channel (`A1.1`), a section (`SUB-L1.upper`), or any other thing of the rig."""
    message: str
    advice: str
    figure: float | None = None
    """In the unit of its limit; None where there are no degrees."""
    limit: Limit | None = None
    """What the figure is past."""

    @property
    def excess(self) -> float:
        """How far the figure is past its limit, as a share of it, more being graver; 0 where there are no degrees."""
        return 0.0 if self.limit is None or self.figure is None else -self.limit.margin(self.figure)

    @property
    def sentence(self) -> str:
        """The message, the place before it where it does not begin with it."""
        return self.message if self.message.startswith(self.at) else f"{self.at}: {self.message}"


def grouped(findings: Sequence[Finding]) -> list[tuple[Finding, ...]]:
    """Findings that say the same of several places together, each group where the first of it stood."""
    found: dict[tuple[str, ...], list[Finding]] = {}
    for each in findings:
        found.setdefault((each.severity, each.code, _of_each(each), each.advice), []).append(each)
    return [tuple(group) for group in found.values()]


def places(group: Sequence[Finding], most: int | None = None) -> str:
    """Where findings that say the same are: `A1.1, A1.2 and A2.1`; the first `most` and how many more, if more."""
    return few(list(dict.fromkeys(finding.at for finding in group)), most or len(group))


def message_of(group: Sequence[Finding]) -> str:
    """What findings say that say the same, beside their places."""
    return group[0].message if len(group) == 1 else _of_each(group[0])


def sentence_of(group: Sequence[Finding], most: int | None = None) -> str:
    """The same with their places before it."""
    if len(group) == 1:
        return group[0].sentence
    told = message_of(group)
    return f"{places(group, most)}: {f'each{told[4:]}' if told.startswith('Each ') else told}"


def _of_each(finding: Finding) -> str:
    """A message with `each` for its place."""
    if not finding.at or finding.at not in finding.message:
        return finding.message
    said = re.sub(rf"(?<![\w.-]){re.escape(finding.at)}(?![\w-]|\.\w)", "each", finding.message)
    return f"Each{said[4:]}" if said.startswith("each ") else said
