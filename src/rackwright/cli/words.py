"""The kinds of words that commands take, as a shell completes them: rigs, places of a rig, figures, sheets, files.

Completing never says what is wrong: where a rig can't be read there is nothing to offer. Nothing heavy is imported before
a word is asked for.
"""

import os
from collections.abc import Callable, Iterable
from glob import escape, iglob
from typing import Any

import click
from click.shell_completion import CompletionItem
from click.types import StringParamType


class Word(StringParamType):
    """A text that a shell completes by what `known` gives in the command at hand; any other text is taken too."""

    def __init__(self, known: Callable[[click.Context], Iterable[str]], *, path: str = "") -> None:
        self._known, self._path = known, path

    def shell_complete(
        self, ctx: click.Context, param: click.Parameter, incomplete: str
    ) -> "list[CompletionItem[Any]]":
        """What is known that begins so; else a `path`, `file` or `dir`, where it may be one."""
        known = [each for each in offered(self._known, ctx) if each.startswith(incomplete)]
        if self._path and not known:
            return [CompletionItem(incomplete, type=self._path)]
        return [CompletionItem(each) for each in known if not any(map(str.isspace, each))]


class Words(Word):
    """Several such with commas between them, each once."""

    def shell_complete(
        self, ctx: click.Context, param: click.Parameter, incomplete: str
    ) -> "list[CompletionItem[Any]]":
        """What is known that begins as the last one does."""
        before, comma, last = incomplete.rpartition(",")
        taken = before.split(",")
        found = super().shell_complete(ctx, param, last)
        return [CompletionItem(f"{before}{comma}{item.value}") for item in found if item.value not in taken]


def offered(known: Callable[[click.Context], Iterable[str]], ctx: click.Context) -> list[str]:
    """What there is to offer; nothing where that can't be read."""
    try:
        return list(known(ctx))
    except Exception:
        return []


def rigs(incomplete: str) -> list[str]:
    """Presets and rig files that begin so."""
    from rackwright.store import presets

    files = iglob(os.path.join(escape(os.path.dirname(incomplete)), "*.toml"))
    return [each for each in (*presets.names(), *sorted(files)) if each.startswith(incomplete)]


class _Rig(StringParamType):
    """A rig file or the name of a preset."""

    def shell_complete(
        self, ctx: click.Context, param: click.Parameter, incomplete: str
    ) -> "list[CompletionItem[Any]]":
        """Presets and rig files; else any file, so that folders can be walked."""
        found = offered(lambda _: rigs(incomplete), ctx)
        return [CompletionItem(each) for each in found] or [CompletionItem(incomplete, type="file")]


def _index(ctx: click.Context) -> Any:
    from rackwright.cli.opening import opened
    from rackwright.model.index import Index

    rig = ctx.params.get("rig") or ctx.args[0]  # what stands before an option without its value is not parsed
    return Index(opened(rig).rig)


def _judged(ctx: click.Context) -> list[str]:
    """The places that have figures."""
    index = _index(ctx)
    here = (index.channels, index.sections, index.lines, index.circuits, index.boards, index.amplifiers)
    return [*(name for kind in (*here, index.racks) for name in kind), "supply"]


def _figures(ctx: click.Context) -> list[str]:
    from rackwright.engine.assess import assess
    from rackwright.engine.workings import places

    shown = [each for place in places(assess(_index(ctx).rig), ctx.params["place"]) for each in place.shown]
    return list(dict.fromkeys(each.figure.name for each in shown if each.value is not None))


def _fallible(ctx: click.Context) -> list[str]:
    """What can fail, by its name alone."""
    index = _index(ctx)
    kinds = ("channels", "amplifiers", "racks", "sockets", "lines", "cabinets", "sections", "feeds")
    return [name for kind in (*kinds, "circuits", "boards") for name in getattr(index, kind)]


def _heard(ctx: click.Context) -> list[str]:
    """What can be heard, with what it may do."""
    from rackwright.engine.diagnosis import answers

    index = _index(ctx)
    places = (*index.sections, *index.cabinets, *index.feeds, *answers.SIDES)
    of_any = [word for word in answers.HEARD if word not in answers.OF_A_KIND]
    return [f"{place}={word}" for place in places for word in of_any]


def _venues(_: click.Context) -> Iterable[str]:
    from rackwright.store import venues

    return venues.names()


def _presets(_: click.Context) -> Iterable[str]:
    from rackwright.store import presets

    return presets.names()


def _equipment(_: click.Context) -> Iterable[str]:
    from rackwright.cli.opening import known_equipment

    return [entry.id for entry in known_equipment().entries()]


def _codes(_: click.Context) -> Iterable[str]:
    from rackwright.engine.findings.meanings import MEANINGS

    return MEANINGS


def _reports(_: click.Context) -> Iterable[str]:
    from rackwright.cli.report_types import REPORTS

    return REPORTS


RIG = _Rig()
PLACE, FIGURE = Word(_judged), Word(_figures)
FALLIBLE, HEARD = Word(_fallible), Word(_heard)
CODE, REPORT = Word(_codes), Word(_reports)
CIRCUIT = Word(lambda ctx: _index(ctx).circuits)
VENUE, PRESET, EQUIPMENT = Word(_venues, path="file"), Word(_presets), Word(_equipment)
FILE, FOLDER = Word(lambda _: (), path="file"), Word(lambda _: (), path="dir")
