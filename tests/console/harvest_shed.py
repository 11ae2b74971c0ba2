"""Harvest Shed, built from nothing by keys alone: the script of keys, step by step, that tests and a benchmark press.

Two double subs with a pole pair and a channel to each woofer, two bi-amped tops, two monitors of which the second hangs
on the first, five amplifiers of which one is the user's own, two circuits, limiters as advised, a file and a preset.
"""

from collections.abc import Iterator

NAMED = frozenset(
    ("enter", "down", "up", "left", "right", "space", "escape", "tab", "end", "home", "delete", "ctrl+u")
)
"""Keys that a step names; the rest of it is text."""

NOTES = "Mains behind the bar. Load in through the yard."

STEPS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("a new rig", ("n",)),
    ("a rack", ("a", "enter", "down", "down", "10", "enter")),
    ("two circuits", ("a", "ci", "enter", *["down"] * 4, "25", "down", "2.5", "down", "2", "enter")),
    (
        "four feeds",
        (
            "a", "f", "enter", "sub", "down", "35-90", "enter",
            "a", "enter", "mid", "down", "-1.6k", "enter",
            "a", "enter", "high", "down", "-18k", "enter",
            "a", "enter", "mon", "down", "80-", "enter",
        ),
    ),
    (
        "an amplifier of one's own",
        (
            "t", "my", "enter", "a", "own-2ch", "down", "down", "2", "down", "2", "down",
            "900@8, 1500@4", "down", "down", "400", "enter", "escape",
        ),
    ),
    (
        "five amplifiers",
        (
            "a", "am", "enter", *["down"] * 5, "su", "enter", "down", "su", "enter", "down", "down", "2", "enter",
            "a", "enter", "left", *["down"] * 5, "mi", "enter", "down", "mi", "enter", "enter",
            "a", "enter", "550", "enter", *["down"] * 5, "hi", "enter", "down", "hi", "enter", "enter",
            "a", "enter", "own", "enter", *["down"] * 5, "mo", "enter", "down", "mo", "enter", "enter",
        ),
    ),
    ("five sockets", ("a", "s", "enter", "up", "5", "enter")),
    (
        "six cabinets",
        (
            "a", "ca", "enter", "sub", "enter", "down", "SUB-L", "enter", "D",
            "a", "enter", "top", "down", "enter", "enter", "D",
            "a", "enter", "wedge-p", "enter", "up", "2", "enter",
        ),
    ),
    ("five lines from sockets", ("c", "tab", "12, 18, 20, 20, 10", "enter")),
    ("a line from monitor to monitor", ("end", "c", "enter", "5", "enter")),
    ("limiters as advised", ("/feed", "tab", "l", "escape")),
    ("saved, which names it", ("s", "ctrl+u", "Harvest Shed", "enter")),
    ("a preset, which saves the notes, too", ("P", "down", "down", NOTES, "enter")),
)  # fmt: skip


def keys(step: tuple[str, ...]) -> Iterator[str]:
    """The keys of a step, one by one, by their names."""
    for part in step:
        if part in NAMED:
            yield part
        else:
            yield from ("space" if sign == " " else sign for sign in part)
