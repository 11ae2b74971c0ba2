"""`completion`: has bash, zsh or fish complete commands, rigs, places and figures."""

import os
import shlex
from pathlib import Path
from typing import Any, NamedTuple

import click
from click.shell_completion import (
    BashComplete,
    CompletionItem,
    add_completion_class,
    get_completion_class,
    split_arg_string,
)

from rackwright.cli.opening import Refusal
from rackwright.cli.page import Page, emit
from rackwright.cli.status import COMPLETING, USAGE

OURS = "# rackwright: completes words"
SHELLS = ("bash", "zsh", "fish")
ZSH_STARTS = "(( $+functions[compdef] )) || { autoload -Uz compinit && compinit }\n"
"""Completion is off in zsh until that."""


@add_completion_class
class _Bash(BashComplete):
    """Bash takes `=` for a word of its own: `--heard SUB-L1=qu` is four words to it, and it puts in only what follows the sign."""

    _stays = ""
    """What stands before the last `=` of the word at the cursor."""

    def get_completion_args(self) -> tuple[list[str], str]:
        """The words before the one at the cursor, and that one, as they were typed."""
        words = [*split_arg_string(os.environ["COMP_WORDS"]), ""][: int(os.environ["COMP_CWORD"]) + 1]
        typed: list[str] = []
        for before, word in zip(["", *words], words, strict=False):
            if typed and "=" in (before, word):
                typed[-1] += word
            else:
                typed.append(word)
        self._stays = typed[-1].rpartition("=")[0]
        return typed[1:-1], typed[-1]

    def format_completion(self, item: "CompletionItem[Any]") -> str:
        """What is put in."""
        return f"{item.type},{item.value.removeprefix(self._stays).removeprefix('=' if self._stays else '')}"


class Place(NamedTuple):
    """Where a shell finds a script."""

    script: Path
    start: Path | None
    """The file that a line in has it read; None where the shell looks for it itself."""


@click.command()
@click.argument("shell", type=click.Choice(SHELLS), required=False)
@click.option("--install", is_flag=True, help="Have SHELL read the script when it starts.")
def command(shell: str | None, install: bool) -> None:
    """Have the shell complete commands, rigs, places and figures.

    SHELL is the one you use unless named. Without --install, prints the script that it needs. With it, the script is kept in
    your own folder, and one line is added to what bash or zsh reads when it starts; fish has a folder for it.
    """
    from rackwright.cli.group import commands

    named = shell or os.path.basename(os.environ.get("SHELL", ""))
    made = get_completion_class(named) if named in SHELLS else None
    if made is None:
        raise Refusal(
            f"Name the shell: {', '.join(SHELLS)}. $SHELL does not tell which of them you use.", USAGE
        )
    script = made(commands, {}, "rackwright", COMPLETING).source()
    if not install:
        emit(script)
        return
    page = Page()
    place = _place(named)
    try:
        _write(place.script, (ZSH_STARTS if named == "zsh" else "") + script)
        page.say("Wrote:")
        page.to_copy(str(place.script))
        if place.start is not None and _reads(place.start, place.script):
            page.say(
                f"Added to {place.start} the line that reads it. To be without it again, remove that line."
            )
    except OSError as error:
        raise Refusal(
            f"{error.filename or place.script} can't be written: {error.strerror}. Have the folder writable, or add to what "
            f"{named} reads when it starts what rackwright completion {named} prints."
        ) from None
    page.say(f"Start a new {named}, and press tab after rackwright.")
    page.print()


def _place(shell: str) -> Place:
    from rackwright.store.home import home

    user = Path.home()
    if shell == "fish":
        config = Path(os.environ.get("XDG_CONFIG_HOME") or user / ".config")
        return Place(config / "fish" / "completions" / "rackwright.fish", None)
    start = user / ".bashrc" if shell == "bash" else Path(os.environ.get("ZDOTDIR") or user) / ".zshrc"
    return Place(home() / "completion" / f"rackwright.{shell}", start)


def _write(path: Path, text: str) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")


def _reads(start: Path, script: Path) -> bool:
    """Add the line that reads the script, at the end, where it is not there yet; whether it was added. Nothing else is touched."""
    line = f"[ -r {shlex.quote(str(script))} ] && . {shlex.quote(str(script))}  {OURS}"
    before = start.read_bytes() if start.exists() else b""
    if line.encode() in before.splitlines():
        return False
    with start.open("ab") as file:
        file.write(b"\n" * (bool(before) and not before.endswith(b"\n")) + line.encode() + b"\n")
    return True
