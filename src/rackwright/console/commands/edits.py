"""The keys that build the rig. What a thing asks for is in `forms`; what becomes of an edit the editor says."""

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from textwrap import shorten

from rackwright.console import narrowing
from rackwright.console.alike import of_kind
from rackwright.console.commands.connect import connect_chosen, lay, lay_from, reconnect
from rackwright.console.commands.look import why
from rackwright.console.commands.tables import TABLES, open_table
from rackwright.console.editor import Editor
from rackwright.console.forms.defaults import ADDABLE
from rackwright.console.forms.several import SHARED
from rackwright.console.keymap import command
from rackwright.console.related import KINDS
from rackwright.console.session import Session
from rackwright.console.widgets.fields import Option
from rackwright.model import edits
from rackwright.model.index import pole_or_none
from rackwright.model.places import PolePair
from rackwright.model.rig import Rig
from rackwright.store.safe.undo_log import Moment
from rackwright.units.wording import few

build = partial(command, "Build")
THINGS = frozenset(KINDS)
EDITABLE = THINGS | {"channel", "pole", "section"}


@build(
    "enter",
    "edit",
    "Edit what is selected, in a form",
    EDITABLE | {"rig"},
    edits=True,
    also="change modify open form",
)
def edit_selected(editor: Editor) -> None:
    """On a figure its working is shown."""
    if editor.host.front == 2:
        why(editor)
    elif not editor.locked() and (sheet := editor.sheets.of(editor.session.place)) is not None:
        editor.open_sheet(sheet)


def _edits(session: Session) -> str:
    kinds = session.kinds if session.chosen else set()
    return "edit" if len(kinds) == 1 and kinds <= SHARED.keys() else ""


@build(
    "e",
    "edit all",
    "Edit all chosen at once, such as their feed or length",
    edits=True,
    many=True,
    now=_edits,
    also="bulk several batch cable length",
)
def edit_chosen(editor: Editor) -> None:
    session = editor.session
    chosen = session.meant
    if not chosen:
        editor.say("Choose things of one kind with space, then press e.", "yellow")
        return
    if len(session.kinds) > 1:
        editor.say("Choose things of one kind only, such as lines or cabinets.", "yellow")
        return
    from rackwright.console.forms.several import sheet_for_all

    if sheet := sheet_for_all(editor.sheets, session.kinds.pop(), chosen):
        editor.open_sheet(sheet, stays=True)
    else:
        editor.say("These have no field in common to edit.", "yellow")


LIKELY = {
    "channel": "amplifier",
    "pole": "line",
    "section": "cabinet",
    **{kind: kind for kind in ADDABLE},
    "rack": "amplifier",
}
"""What is most likely added next to a thing of that kind."""


@build(
    "a",
    "add",
    "Add a rack, an amplifier, a line or anything else",
    edits=True,
    also="new create insert cabinet feed",
)
def add(editor: Editor) -> None:
    session = editor.session
    likely = LIKELY.get(session.kind, "rack") if session.rig.racks else "rack"
    if likely == "line" and not editor.options.unfed():
        likely = "cabinet"
    options = [Option(kind, told) for kind, told in ADDABLE.items()]
    options.sort(key=lambda option: option.value != likely)

    def picked(kind: str) -> None:
        editor.open_asked(lambda: editor.sheets.new(kind, session.place))

    editor.pick("Add what?", options, picked)


LABEL = 26
"""Signs that the foot gives to what undo would undo, so that it leaves room for other keys."""


def _undoes(session: Session) -> str:
    return _short("undo", session.history.undoes) if session.may_undo() else ""


def _redoes(session: Session) -> str:
    return _short("redo", session.history.redoes) if session.may_undo(-1) else ""


def _short(verb: str, moment: Moment | None) -> str:
    return f"{verb} {shorten(moment.label, LABEL, placeholder=' …')}" if moment else ""


@build("u", "undo", "Undo the last edit", in_show=True, now=_undoes, also="ctrl+z back")
def undo(editor: Editor) -> None:
    editor.undo()


@build(
    "d",
    "duplicate",
    "Duplicate it, a rack whole, a cabinet with its line",
    THINGS,
    edits=True,
    many=True,
    also="copy clone",
)
def duplicate(editor: Editor) -> None:
    """The cursor goes to the copy of one, and stays where it is for several."""
    places = editor.session.meant
    _copied(editor, "duplicate", "duplicated", lambda rig: edits.duplicate_all(rig, places))


def _copied(editor: Editor, verb: str, done: str, copy: Callable[[Rig], tuple[Rig, tuple[str, ...]]]) -> None:
    places, before = editor.session.meant, editor.session.rig
    if not editor.make(f"{verb} {few(places, 3)}", lambda rig: copy(rig)[0]):
        return
    copies = copy(before)[1]
    if len(places) == 1:
        editor.host.go_to(copies[0])
    editor.say(f"{few(places, 3)} {'is' if len(places) == 1 else 'are'} {done} as {few(copies, 3)}.")


@build(
    "delete",
    "remove",
    "Remove it; lists what depends on it first",
    THINGS,
    edits=True,
    many=True,
    shown_key="del",
    also="delete erase",
)
def remove(editor: Editor) -> None:
    editor.remove(editor.session.meant)


@build(
    "m",
    "move",
    "Move amplifiers to another unit or rack by arrows",
    frozenset({"amplifier"}),
    edits=True,
    many=True,
    also="shift unit rack",
)
def move(editor: Editor) -> None:
    from rackwright.console.screens.amplifier_position import AmplifierPosition

    meant = editor.session.meant

    def done(target: tuple[str, int] | None) -> None:
        if target is not None:
            editor.make(f"move {few(meant)}", lambda rig: edits.move_amplifiers(rig, meant, *target))

    editor.app.push_screen(AmplifierPosition(editor.session.assessment, meant, editor.glyphs), done)


@build(
    "p",
    "patch",
    "Patch a pole pair to a channel, or the reverse",
    frozenset({"pole", "channel", "socket"}),
    edits=True,
    many=True,
    also="route output channel",
)
def patch(editor: Editor) -> None:
    """Several: from the one picked on in order, or all to that one."""
    index, meant = editor.session.assessment.index, editor.session.meant
    if editor.session.kinds == {"channel"}:
        options, names_of = _from_on(editor.options.poles(), len(meant))
        editor.pick(
            f"Patch {few(meant, 3)} to",
            options,
            lambda answer: _patch(editor, dict(zip(names_of[answer], meant, strict=True))),
        )
        return
    if "channel" in editor.session.kinds:
        editor.say("Choose channels only, or pole pairs only, then press p.", "yellow")
        return
    pairs = [index.pole_pairs.get(place) or PolePair(place, 0) for place in meant]
    one = f"pole pair {pairs[0].pair + 1} of {pairs[0].socket}"
    wired, *channels = editor.options.channels()
    options, names_of = _from_on(channels, len(pairs))
    all_to_one = channels if len(pairs) > 1 else ()
    options = [wired, *options, *all_to_one]

    def picked(answer: str) -> None:
        poles = names_of.get(answer, (answer,) * len(pairs))
        _patch(editor, dict(zip(map(str, pairs), poles, strict=True)))

    driven = index.sockets[pairs[0].socket].pole(pairs[0].pair).removeprefix("-") if len(pairs) == 1 else ""
    if len(pairs) == 1:
        options = [o._replace(words=f"{o.words}, now") if o.value == driven else o for o in options]
    title = f"Drive {one if len(pairs) == 1 else f'{len(pairs)} pole pairs'} from"
    editor.pick(title, options, picked, driven)


def _from_on(options: Sequence[Option], count: int) -> tuple[list[Option], dict[str, tuple[str, ...]]]:
    """For each option that has enough after it, it and those after it, one each, with what is told of them, and which these are."""
    runs = [options[at : at + count] for at in range(len(options) - count + 1)]
    one_each = "one each: " if count > 1 else ""
    found = [
        Option(", ".join(o.value for o in run), one_each + "; ".join(dict.fromkeys(o.words for o in run)))
        for run in runs
    ]
    return found, {each.value: tuple(o.value for o in run) for each, run in zip(found, runs, strict=True)}


def _patch(editor: Editor, poles: Mapping[str, str]) -> None:
    """Have each pole pair driven by what is written for it; the cursor stays."""
    pairs = editor.session.assessment.index.pole_pairs

    def change(rig: Rig) -> Rig:
        for name, pole in poles.items():
            rig = edits.patch(rig, pairs[name].socket, pairs[name].pair + 1, pole)
        return rig

    first = pairs[next(iter(poles))]
    label = f"{first.socket} pole pair {first.pair + 1}" if len(poles) == 1 else f"{len(poles)} pole pairs"
    editor.make(f"patch {label}", change)


@build(
    "r",
    "reverse",
    "Reverse the polarity of a pole pair",
    frozenset({"pole"}),
    edits=True,
    many=True,
    also="polarity phase invert flip",
)
def reverse(editor: Editor) -> None:
    index = editor.session.assessment.index
    pairs = {name: index.pole_pairs[name] for name in editor.session.meant}
    wired = {name: pole_or_none(index.sockets[pair.socket].pole(pair.pair)) for name, pair in pairs.items()}
    if turned := {name: pole._replace(sign=-pole.sign).text for name, pole in wired.items() if pole}:
        _patch(editor, turned)
    else:
        editor.say(
            f"No channel drives {few([*pairs], 3)}: there is no polarity to reverse. Press p.", "yellow"
        )


ENDS = frozenset({"socket", "pole", "cabinet", "line", "section"})


def _connects(session: Session) -> str:
    """Several cabinets and sockets that have no line; one thing that has a line, or could have one to what has none."""
    index = session.assessment.index
    waiting = {name for name in index.cabinets if name not in index.line_to}
    if session.chosen:
        free = waiting | {name for name in index.sockets if not index.lines_from.get(name)}
        return "connect" if waiting and free.issuperset(map(index.thing_at, session.chosen)) else ""
    place = index.thing_at(session.place)
    return "connect" if waiting or place in index.lines else ""


@build(
    "c",
    "connect",
    "Connect a line from here; lines of all chosen",
    ENDS,
    edits=True,
    many=True,
    now=_connects,
    also="cable line lay link",
)
def connect(editor: Editor) -> None:
    """To several cabinets or from several sockets: a line each, in the order in which they were chosen."""
    index, options = editor.session.assessment.index, editor.options
    if len(editor.session.chosen) > 1:
        connect_chosen(editor)
        return
    place = index.thing_at(*editor.session.meant)
    if place in index.lines:
        reconnect(editor, place)
    elif place in index.cabinets and place not in index.line_to:
        free = [name for name in index.sockets if not index.lines_from.get(name)]
        several = len(free) > 1 and len(options.unfed()) > 1

        def from_each(shown: list[str]) -> None:
            if sockets := [name for name in free if name in shown]:
                lay_from(editor, sockets)
            else:
                editor.say("No socket that is shown is free.", "yellow")

        editor.pick(
            f"Connect a line to {place} from",
            options.sources(place),
            lambda near: lay(editor, near, place),
            all_of_them=("a line from each free socket", from_each) if several else None,
        )
    elif waiting := [option for option in options.unfed(source=place) if option.value != place]:
        editor.pick(f"Connect a line from {place} to", waiting, lambda to: lay(editor, place, to))
    else:
        editor.say("Every cabinet has its line. Add a cabinet first: press a.", "yellow")


@build(
    "D",
    "other side",
    "Duplicate to the other side; left becomes right in ids, too",
    THINGS,
    edits=True,
    many=True,
    also="mirror left right copy",
)
def other_side(editor: Editor) -> None:
    places = editor.session.meant
    _copied(editor, "mirror", "mirrored", lambda rig: edits.to_other_side(rig, places))


@build(
    "E",
    "columns",
    "Edit down columns, such as lengths, cables or limiters",
    frozenset(SHARED),
    edits=True,
    many=True,
    now=lambda session: "columns" if len(session.kinds) == 1 else "",
    also="spreadsheet grid table fill down feed trim position priority",
)
def columns(editor: Editor) -> None:
    """Of what is chosen, else of all that is shown of the kind of what is selected."""
    from rackwright.console.screens.columns import Columns

    session = editor.session
    if len(session.kinds) > 1:
        editor.say("Choose things of one kind only, such as lines or cabinets.", "yellow")
        return
    alike = of_kind(session.assessment, session.kind)
    places = session.chosen or narrowing.shown(session.assessment, session.only, alike)
    editor.app.push_screen(Columns(editor, places, session.place))


def _feeds(session: Session) -> list[str]:
    """The feeds that are chosen or selected, of a channel its own."""
    channels, feeds = session.assessment.channels, session.assessment.index.feeds
    meant = dict.fromkeys(channels[name].feed if name in channels else name for name in session.meant)
    return [feed for feed in meant if feed in feeds]


def _limits(session: Session) -> str:
    feeds = session.assessment.index.feeds
    return "limiters" if any(each in feeds for each in session.meant) else ""


@build(
    "l",
    "limiters",
    "Set the limiters of the feed, or of all chosen, as advised",
    edits=True,
    many=True,
    now=_limits,
    also="protect power",
)
def set_limiters(editor: Editor) -> None:
    editor.set_advised_limiters(_feeds(editor.session), editor.make)


@build("ctrl+v", "", "Paste lengths: one for all chosen, or one a line", shown_key="paste")
def paste_hint(editor: Editor) -> None:
    """The terminal keeps its own paste key to itself: what it pastes goes to `paste_lengths`."""
    editor.say(
        "Paste lengths with your terminal's own paste key: one length for all chosen lines, or one a line in order."
    )


@build(
    "t",
    "tables",
    "Tables: feeds, mains, spares, stock, equipment",
    also="limiter feed crossover library settings supply spares stock",
)
def tables(editor: Editor) -> None:
    editor.pick("Edit which?", TABLES, lambda name: open_table(editor, name))


@build(
    "H",
    "",
    "The undo list: what each edit did, and back to any",
    in_show=True,
    also="undo redo history back moment",
)
def history(editor: Editor) -> None:
    from rackwright.console.screens.history import HistoryTable

    if editor.session.history.begun:
        editor.app.push_screen(HistoryTable(editor))
    else:
        editor.say("Nothing is edited yet: the undo list is empty.")


@build("U", "redo", "Redo", in_show=True, now=_redoes, also="ctrl+y again forward")
def redo(editor: Editor) -> None:
    editor.redo()
