"""Names in a sentence: all of them, or the first and how many more; and how many there are of a thing."""

from collections.abc import Iterable, Sequence
from string import digits

MOST = 6
RUN = 3
"""Names of a run at the least."""


def listed(names: Sequence[str], word: str = "and") -> str:
    """`A1`, `A1 and A2`, `A1, A2 and A3`; nothing of none."""
    return f" {word} ".join(part for part in (", ".join(names[:-1]), *names[-1:]) if part)


def some(names: Sequence[str], most: int = MOST) -> str:
    """`A1, A2`; where there are more than `most`, the first and how many more: `A1, A2 and 5 more`, unless that is longer than all."""
    return _shorter(names, ", ".join(names), most)


def few(names: Sequence[str], most: int = MOST) -> str:
    """The same in a sentence: `A1 and A2` where that is all."""
    return _shorter(names, listed(names), most)


def _shorter(names: Sequence[str], full: str, most: int) -> str:
    """All in full, or the first `most` of them where they are more and that is shorter."""
    cut = f"{', '.join(names[:most])} and {len(names) - most} more"
    return full if len(names) <= most or len(full) <= len(cut) else cut


def runs(names: Iterable[str]) -> str:
    """Names one after the other, those that count on as one: `A1.1–4, A2.1, A2.2`."""
    found: list[list[str]] = []
    for name in names:
        if found and _next(found[-1][-1]) == name:
            found[-1].append(name)
        else:
            found.append([name])
    return ", ".join(
        f"{run[0]}–{_parted(run[-1])[1]}" if len(run) >= RUN else ", ".join(run) for run in found
    )


def _next(name: str) -> str:
    """The name that counts on from one; nothing where it does not end in a number."""
    stem, number = _parted(name)
    return f"{stem}{int(number) + 1}" if number else ""


def _parted(name: str) -> tuple[str, str]:
    """A name without the number at its end, and the number."""
    stem = name.rstrip(digits)
    return stem, name[len(stem) :]


def ranged(low: int, high: int) -> str:
    """`1`, `3–4`."""
    return f"{low}" if low == high else f"{low}–{high}"


def so_many(number: int, noun: str) -> str:
    """`1 line`, `2 lines`."""
    return f"{number} {noun}{'' if number == 1 else 's'}"
