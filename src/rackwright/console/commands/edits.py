"""The keys that build the rig. What a thing asks for is in `forms`; what becomes of an edit the editor says."""

from functools import partial

from rackwright.console.commands.look import why
from rackwright.console.commands.tables import TABLES, open_table
from rackwright.console.editor import Editor
from rackwright.console.forms.defaults import ADDABLE
from rackwright.console.keymap import command
from rackwright.console.related import KINDS, kind_of
from rackwright.console.session import Session
from rackwright.console.widgets.fields import Option
from rackwright.model import edits
from rackwright.model.edits import EditError
from rackwright.model.index import pole_or_none
from rackwright.model.places import PolePair
from rackwright.model.rig import Rig
from rackwright.units import Length, QuantityError

build = partial(command, "Build")
THINGS = frozenset(KINDS)
EDITABLE = THINGS | {"channel", "pole", "section"}


@build("enter", "edit", "Edit what is selected, in a form", EDITABLE | {"rig"})
def edit_selected(editor: Editor) -> None:
    """On a figure its working is shown."""
    if editor.host.front == 2:
        why(editor)
    elif not editor.locked() and (sheet := editor.sheets.of(editor.session.place)) is not None:
        editor.open_sheet(sheet)


LIKELY = {
    "channel": "amplifier",
    "pole": "line",
    "section": "cabinet",
    **{kind: kind for kind in ADDABLE},
    "rack": "amplifier",
}
"""What is most likely added next to a thing of that kind."""


@build("a", "add", "Add a rack, amplifier, line, cabinet, feed …", edits=True)
def add(editor: Editor) -> None:
    session = editor.session
    likely = LIKELY.get(session.kind, "rack") if session.rig.racks else "rack"
    options = [Option(kind, told) for kind, told in ADDABLE.items()]
    options.sort(key=lambda option: option.value != likely)

    def picked(kind: str) -> None:
        try:
            sheet = editor.sheets.new(kind, session.place)
        except EditError as error:
            editor.say(str(error), "yellow")
            return
        editor.open_sheet(sheet)

    editor.pick("Add what?", options, picked)


def _undoes(session: Session) -> str:
    return f"undo {moment.label}" if (moment := session.history.undoes) else ""


def _redoes(session: Session) -> str:
    return f"redo {moment.label}" if (moment := session.history.redoes) else ""


@build("u", "undo", "Undo the last edit", in_show=True, now=_undoes)
def undo(editor: Editor) -> None:
    editor.undo()


@build("d", "duplicate", "Duplicate it, a rack whole, a cabinet with its line", THINGS, edits=True)
def duplicate(editor: Editor) -> None:
    place = editor.session.place
    copy = edits.next_id(editor.session.rig, place)
    if editor.make(f"duplicate {place}", lambda rig: edits.duplicate(rig, place), copy):
        editor.host.go_to(copy)
        editor.say(f"{place} is duplicated as {copy}.")


@build("delete", "remove", "Remove it; lists what depends on it first", THINGS, edits=True, shown_key="del")
def remove(editor: Editor) -> None:
    editor.remove((editor.session.place,), "unpatch or remove these too")


@build(
    "m", "move", "Move an amplifier to another unit or rack by arrows", frozenset({"amplifier"}), edits=True
)
def move(editor: Editor) -> None:
    from rackwright.console.screens.amplifier_position import AmplifierPosition

    amplifier = editor.session.place

    def done(target: tuple[str, int] | None) -> None:
        if target is not None:
            editor.make(
                f"move {amplifier}", lambda rig: edits.move_amplifier(rig, amplifier, *target), amplifier
            )

    editor.app.push_screen(AmplifierPosition(editor.session.assessment, amplifier, editor.glyphs), done)


@build(
    "p",
    "patch",
    "Patch a pole pair to a channel, or the reverse",
    frozenset({"pole", "channel", "socket"}),
    edits=True,
)
def patch(editor: Editor) -> None:
    place, index = editor.session.place, editor.session.assessment.index
    if editor.session.kind == "channel":
        poles = [
            Option(name, index.sockets[pair.socket].pole(pair.pair) or "not wired")
            for name, pair in index.pole_pairs.items()
        ]
        editor.pick(
            f"Patch {place} to", poles, lambda name: _patch(editor, index.pole_pairs[name], place, place)
        )
        return
    pair = index.pole_pairs.get(place) or PolePair(place, 0)
    editor.pick(
        f"Drive pole pair {pair.pair + 1} of {pair.socket} from",
        editor.options.channels(),
        lambda pole: _patch(editor, pair, pole, str(pair)),
    )


def _patch(editor: Editor, pair: PolePair, pole: str, select: str) -> None:
    editor.make(
        f"patch {pair.socket} pole pair {pair.pair + 1}",
        lambda rig: edits.patch(rig, pair.socket, pair.pair + 1, pole),
        select,
    )


@build("r", "reverse", "Reverse the polarity of a pole pair", frozenset({"pole"}), edits=True)
def reverse(editor: Editor) -> None:
    index, place = editor.session.assessment.index, editor.session.place
    pair = index.pole_pairs[place]
    if pole := pole_or_none(index.sockets[pair.socket].pole(pair.pair)):
        _patch(editor, pair, pole._replace(sign=-pole.sign).text, place)


ENDS = frozenset({"socket", "pole", "cabinet", "line", "section"})


@build("c", "connect", "Connect a line from here: pick both ends", ENDS, edits=True)
def connect(editor: Editor) -> None:
    index, options = editor.session.assessment.index, editor.options
    place = index.thing_at(editor.session.place)
    if place in index.lines:
        _reconnect(editor, place)
    elif place in index.cabinets and place not in index.line_to:
        editor.pick(
            f"Connect a line to {place} from", options.sources(place), lambda near: _run(editor, near, place)
        )
    elif waiting := [option for option in options.unfed() if option.value != place]:
        editor.pick(f"Connect a line from {place} to", waiting, lambda to: _run(editor, place, to))
    else:
        editor.say("Every cabinet has its line. Add a cabinet first: press a.", "yellow")


def _run(editor: Editor, source: str, to: str) -> None:
    try:
        sheet = editor.sheets.new("line", source)
    except EditError as error:
        editor.say(str(error), "yellow")
        return
    editor.open_sheet(sheet._replace(values={**sheet.values, "source": source, "to": to}))


def _reconnect(editor: Editor, line: str) -> None:
    there = editor.session.assessment.index.lines[line]

    def reconnect(source: str, to: str) -> None:
        editor.make(f"reconnect {line}", lambda rig: edits.change(rig, line, source=source, to=to), line)

    def pick_far_end(source: str) -> None:
        ends = editor.options.unfed(there.to)
        editor.pick(f"{line} from {source} to", ends, lambda to: reconnect(source, to), there.to)

    editor.pick(f"{line} from", editor.options.sources(), pick_far_end, there.source)


@build("space", "choose", "Choose several for one edit", EDITABLE | {"line pair", "phase"}, in_show=True)
def choose(editor: Editor) -> None:
    """And go on to the next row."""
    editor.session.choose()
    editor.host.redraw()
    editor.host.step(1)


def _edits_chosen(session: Session) -> str:
    return "edit all" if session.chosen else ""


@build("e", "edit all", "Edit all chosen at once: feed, cable, length …", edits=True, now=_edits_chosen)
def edit_chosen(editor: Editor) -> None:
    chosen = editor.session.meant
    kinds = {kind_of(editor.session.assessment, place) for place in chosen}
    if not chosen:
        editor.say("Choose things of one kind with space, then press e.", "yellow")
        return
    if len(kinds) > 1:
        editor.say("Choose things of one kind only: lines, or channels, or cabinets …", "yellow")
        return
    from rackwright.console.forms.several import sheet_for_all

    if sheet := sheet_for_all(editor.sheets, kinds.pop(), chosen):
        editor.open_sheet(sheet, lets_go=True)
    else:
        editor.say("These have no field in common to edit.", "yellow")


@build("ctrl+v", "", "Paste lengths: one for all chosen, or one a line", shown_key="paste")
def paste_hint(editor: Editor) -> None:
    """The terminal keeps its own paste key to itself: what it pastes goes to `paste_lengths`."""
    editor.say(
        "Paste lengths with your terminal's own paste key: one length for all chosen lines, or one a line in order."
    )


def paste_lengths(editor: Editor, text: str) -> None:
    """Lengths for the chosen lines: one for all, or one a line in the order chosen."""
    lines = [each for each in editor.session.meant if kind_of(editor.session.assessment, each) == "line"]
    texts = [part for part in text.replace("\t", "\n").splitlines() if part.strip()]
    if not lines or not texts:
        editor.say("Select or choose lines first, then paste their lengths.", "yellow")
        return
    try:
        lengths = [Length.parse(part) for part in texts]
    except QuantityError as error:
        editor.say(str(error), "yellow")
        return
    if len(lengths) == 1:
        lengths *= len(lines)
    if len(lengths) != len(lines):
        told = (
            f"{len(lengths)} lengths were pasted for {len(lines)} lines. Paste one, or as many as are chosen."
        )
        editor.say(told, "yellow")
        return

    def change(rig: Rig) -> Rig:
        for line, length in zip(lines, lengths, strict=True):
            rig = edits.change(rig, line, length=length)
        return rig

    editor.make(f"paste {len(lines)} length{'s' if len(lines) > 1 else ''}", change)


@build("t", "tables", "Tables: feeds, mains, spares, stock, equipment")
def tables(editor: Editor) -> None:
    editor.pick("Edit which?", TABLES, lambda name: open_table(editor, name))


@build("U", "redo", "Redo", in_show=True, now=_redoes)
def redo(editor: Editor) -> None:
    editor.redo()
