"""Lines: what is asked to connect one, several, or one that is there to something else, and lengths that are pasted."""

from rackwright.console.editor import Editor
from rackwright.console.forms.sheet import Sheet
from rackwright.console.related import kind_of
from rackwright.model import edits
from rackwright.model.rig import Rig
from rackwright.units import Length
from rackwright.units.wording import few, so_many


def connect_chosen(editor: Editor) -> None:
    """Ask in one form for the lines to all chosen cabinets, from all chosen sockets, or from these to those in order.

    Only where none of them has its line yet.
    """
    from rackwright.console.forms.several import sheet_of_lines

    index, chosen = editor.session.assessment.index, editor.session.chosen
    ends = list(dict.fromkeys(map(index.thing_at, chosen)))
    sockets = [name for name in ends if name in index.sockets]
    cabinets = tuple(name for name in ends if name in index.cabinets)
    busy = [
        name for name in ends if name in index.line_to or (name in sockets and index.lines_from.get(name))
    ]
    if len(sockets) + len(cabinets) < len(ends):
        editor.say("Choose sockets, cabinets, or as many of both, then press c.", "yellow")
    elif busy:
        told = f"{few(busy, 3)} {'has its line' if len(busy) == 1 else 'have their lines'}"
        editor.say(f"{told}. Choose sockets and cabinets that have none, then press c.", "yellow")
    elif sockets and cabinets and len(sockets) != len(cabinets):
        told = f"{so_many(len(sockets), 'socket')} and {so_many(len(cabinets), 'cabinet')} are chosen"
        editor.say(f"{told}: choose as many of both, or one kind only.", "yellow")
    elif sockets:
        lay_from(editor, sockets, cabinets)
    else:
        places = editor.host.places
        at = [places.index(each) for each in chosen if each in places]
        editor.open_asked(lambda: sheet_of_lines(editor.sheets, cabinets, as_shown=at == sorted(at)))


def lay_from(editor: Editor, sockets: list[str], cabinets: tuple[str, ...] = ()) -> None:
    """Ask in one form for a line from each of several sockets, to those cabinets or to what waits for one."""
    from rackwright.console.forms.several import sheet_from_sockets

    editor.open_asked(lambda: sheet_from_sockets(editor.sheets, sockets, cabinets))


def lay(editor: Editor, source: str, to: str) -> None:
    """Ask for a new line between two places in its form."""

    def line() -> Sheet:
        sheet = editor.sheets.new("line", source)
        return sheet._replace(values={**sheet.values, "source": source, "to": to})

    editor.open_asked(line)


def reconnect(editor: Editor, line: str) -> None:
    """Ask for the near end of a line that is there, then for its far end."""
    there = editor.session.assessment.index.lines[line]

    def join(source: str, to: str) -> None:
        editor.make(f"reconnect {line}", lambda rig: edits.change(rig, line, source=source, to=to), line)

    def pick_far_end(source: str) -> None:
        ends = editor.options.unfed(there.to, source)
        editor.pick(f"{line} from {source} to", ends, lambda to: join(source, to), there.to)

    editor.pick(f"{line} from", editor.options.sources(there.to), pick_far_end, there.source)


def paste_lengths(editor: Editor, text: str) -> None:
    """Lengths for the chosen lines: one for all, or one a line in the order chosen."""
    from rackwright.console.forms.fields import lengths_to
    from rackwright.console.widgets.fields import FieldError, Measure

    lines = [each for each in editor.session.meant if kind_of(editor.session.assessment, each) == "line"]
    pasted = "\n".join(text.splitlines())
    if not lines or not pasted.strip():
        editor.say("Select or choose lines first, then paste their lengths.", "yellow")
        return
    usual = editor.session.assessment.index.lines[lines[0]].length
    try:
        lengths = lengths_to(tuple(lines), Measure("length", "Length", Length).after(usual)).parse(pasted)
    except FieldError as error:
        editor.say(str(error), "yellow")
        return

    def change(rig: Rig) -> Rig:
        for line, length in zip(lines, lengths, strict=True):
            rig = edits.change(rig, line, length=length)
        return rig

    editor.make(f"paste {len(lines)} length{'s' if len(lines) > 1 else ''}", change)
