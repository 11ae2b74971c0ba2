"""Editing a rig by a command, for good or for tonight, and writing it: only where nothing of another name stands, and never one
that is open elsewhere."""

import datetime
import os
import shlex
from collections.abc import Callable
from pathlib import Path

import click

from rackwright.cli.opening import Refusal
from rackwright.cli.page import Page
from rackwright.cli.status import USAGE
from rackwright.engine import recovery
from rackwright.model.edits import EditError
from rackwright.model.night import moment
from rackwright.model.rig import Rig
from rackwright.store.rig_file import ASIDE, SaveError, save
from rackwright.store.safe import atomic_write
from rackwright.store.safe.file_lock import Held, acquire

TONIGHT = click.option(
    "--tonight", is_flag=True, help="For tonight only, where something is failed: the return undoes it."
)


def edited(rig: Rig, edit: Callable[[Rig], Rig], label: str = "", tonight: bool = False) -> Rig:
    """The rig after an edit by hand, which a return keeps unless it is for `tonight`. Raises Refusal."""
    try:
        if tonight and not recovery.under_way(rig):
            raise Refusal("Nothing is failed or changed tonight: leave --tonight out.", USAGE)
        if tonight and not recovery.is_rewiring(rig, edit(rig)):
            raise Refusal(
                "Only what the crew plugs or patches can be for tonight: leave --tonight out.", USAGE
            )
        return recovery.by_hand(rig, edit, label, moment(datetime.datetime.now()), tonight)
    except EditError as error:
        raise Refusal(str(error)) from None


def tell_how_long(page: Page, before: Rig, after: Rig, tonight: bool) -> None:
    """Say what the return does with an edit that may have been for tonight."""
    if recovery.under_way(before) and (tonight or recovery.is_rewiring(before, after)):
        page.gap()
        page.say(
            "For tonight: the return undoes it."
            if tonight
            else "For good: it stays after the return. With --tonight the return undoes it."
        )


def see_that_it_is_free(target: str, own: Path | None) -> None:
    """Raises Refusal where a file of that name exists which is not the rig's own."""
    is_own = own is not None and os.path.exists(target) and os.path.samefile(own, target)
    if os.path.lexists(target) and not is_own:
        raise Refusal(f"{target} exists already and is not touched. Name a new file, or the rig's own.")


def write(rig: Rig, target: str) -> Path | None:
    """Save a rig that no session has open. Raises Refusal; returns where comments were kept, if any were."""
    lock = acquire(target)
    if isinstance(lock, Held):
        raise Refusal(f"{target} is open: {lock.who}. Close it there first, or name a new file.")
    try:
        return save(rig, target)
    except SaveError as error:
        raise Refusal(str(error)) from None
    finally:
        lock.release()


def write_text(target: str, text: str) -> None:
    """Write a file of that text, where none is. Raises Refusal."""
    see_that_it_is_free(target, None)
    try:
        atomic_write.write(target, text.encode())
    except SaveError as error:
        raise Refusal(str(error)) from None


def tell_saved(page: Page, target: str, aside: Path | None) -> None:
    """Say where the rig was written, and where the former text with its comments is kept."""
    page.gap()
    tell_written(page, target)
    if aside is not None:
        page.say(f"{ASIDE}:")
        page.to_copy(str(aside))


def tell_written(page: Page, target: str) -> None:
    """Say where the rig was written, and how to look at it."""
    page.say("Wrote:")
    page.to_copy(target)
    page.say("Check it:")
    page.to_copy(f"rackwright check {shlex.quote(target)}")
