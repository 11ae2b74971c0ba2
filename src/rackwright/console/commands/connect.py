"""Lines: what is asked to connect one, several, or one that is there to something else, and lengths that are pasted."""

from rackwright.console.editor import Editor
from rackwright.console.related import kind_of
from rackwright.model import edits
from rackwright.model.edits import EditError
from rackwright.model.rig import Rig
from rackwright.units import Length
from rackwright.units.wording import few


def connect_chosen(editor: Editor) -> None:
    """Ask for the lines to all chosen cabinets in one form, where none has its line yet."""
    from rackwright.console.forms.several import sheet_of_lines

    index, chosen = editor.session.assessment.index, editor.session.chosen
    fed = [name for name in chosen if name in index.line_to or name not in index.cabinets]
    if fed:
        told = (
            f"{few(fed, 3)} {'has its line' if len(fed) == 1 else 'have their lines'}"
            if editor.session.kinds == {"cabinet"}
            else "Not all that is chosen is a cabinet"
        )
        editor.say(f"{told}. Choose cabinets that no line leads to, then press c.", "yellow")
        return
    try:
        places = editor.host.places
        at = [places.index(each) for each in chosen if each in places]
        editor.open_sheet(sheet_of_lines(editor.sheets, chosen, as_shown=at == sorted(at)), stays=True)
    except EditError as error:
        editor.say(str(error), "yellow")


def lay(editor: Editor, source: str, to: str) -> None:
    """Ask for a new line between two places in its form."""
    try:
        sheet = editor.sheets.new("line", source)
    except EditError as error:
        editor.say(str(error), "yellow")
        return
    editor.open_sheet(sheet._replace(values={**sheet.values, "source": source, "to": to}))


def reconnect(editor: Editor, line: str) -> None:
    """Ask for the near end of a line that is there, then for its far end."""
    there = editor.session.assessment.index.lines[line]

    def join(source: str, to: str) -> None:
        editor.make(f"reconnect {line}", lambda rig: edits.change(rig, line, source=source, to=to), line)

    def pick_far_end(source: str) -> None:
        ends = editor.options.unfed(there.to)
        editor.pick(f"{line} from {source} to", ends, lambda to: join(source, to), there.to)

    editor.pick(f"{line} from", editor.options.sources(), pick_far_end, there.source)


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
