"""The keys that show something of the rig and change nothing in it."""

from functools import partial

from rackwright.console.editor import Editor
from rackwright.console.keymap import command
from rackwright.console.widgets.fields import Option
from rackwright.store import presets, rig_file

look = partial(command, "Look", in_show=True)


@look("v", "findings", "List every finding; enter jumps to its place")
def findings(editor: Editor) -> None:
    from rackwright.console.screens.pages import FindingsList

    def picked(place: str | None) -> None:
        if place:
            editor.host.go_to(place)

    editor.app.push_screen(FindingsList(editor.session.assessment.findings, editor.glyphs), picked)


@look("w", "why", "Show the working of a figure")
def why(editor: Editor) -> None:
    from rackwright.console.screens.pages import working_page

    if (target := editor.host.figure) is not None:
        editor.app.push_screen(working_page(editor.session.assessment, *target, editor.glyphs))
        return
    editor.host.bring_forward(2)
    editor.say("Go to a figure and press w or enter to see its working.")


@look("g", "graph", "Plot impedance and level over frequency")
def graph(editor: Editor) -> None:
    from rackwright.console.screens.graph import Graph

    session = editor.session
    editor.app.push_screen(Graph(session.assessment, session.place, editor.glyphs, session.kept))


@look("M", "mains", "Mains: intake, boards, circuits, loads as a tree")
def mains(editor: Editor) -> None:
    from rackwright.console.screens.mains import MainsTree

    editor.app.push_screen(MainsTree(editor))


@look("k", "compare", "Compare: show each figure as before → now, or stop")
def compare(editor: Editor) -> None:
    if editor.session.kept is None:
        editor.session.keep()
        editor.say("Comparing: each figure shows before → now. Press k to stop.")
    else:
        editor.session.kept = None
        editor.say("Comparing is off.")
    editor.host.redraw()


@look("i", "meter", "Check the lines with a meter, see which faults fit")
def meter_check(editor: Editor) -> None:
    from rackwright.console.screens.meter_check import MeterCheck

    editor.app.push_screen(MeterCheck(editor))


@look("equals_sign", "differences", "List what differs from the saved rig", shown_key="=")
def differences(editor: Editor) -> None:
    from rackwright.console.screens.pages import differences_page

    session = editor.session
    options = [Option("saved", "as the file was saved")] if session.saved is not None else []
    found = {preset.name: preset for preset in presets.listed() if not preset.error}
    options += [Option(name, f"preset: {preset.title}") for name, preset in found.items()]

    def picked(name: str) -> None:
        if name == "saved" and session.saved is not None:
            before, title = session.saved, "From the saved rig to this"
        else:
            before, title = rig_file.load(found[name].path), f"From the preset {name} to this rig"
        editor.app.push_screen(differences_page(before, session.rig, title, editor.glyphs))

    if len(options) == 1:
        picked(options[0].value)
    else:
        editor.pick("Compare this rig with", options, picked)


@look("slash", "find", "Go to a thing by its id", shown_key="/")
def find(editor: Editor) -> None:
    assessment = editor.session.assessment
    index = assessment.index
    options = [
        *(Option(r.id, f"rack {r.name}") for r in index.racks.values()),
        *(Option(a.id, f"amplifier {a.model}") for a in index.amplifiers.values()),
        *(Option(b.id, f"channel {b.result.feed}") for b in assessment.branches.values()),
        *(Option(s.id, "socket") for s in index.sockets.values()),
        *(Option(n.id, f"line to {n.to}") for n in index.lines.values()),
        *(Option(c.id, f"cabinet {c.model} {c.position}") for c in index.cabinets.values()),
        *(Option(name, f"section {s.kind}") for name, s in assessment.sections.items()),
        *(Option(c.id, f"circuit {c.phase} {c.breaker}") for c in index.circuits.values()),
        *(Option(b.id, f"board {b.phase} {b.rating or ''}".rstrip()) for b in index.boards.values()),
        *(Option(each.id, f"load {each.name}".rstrip()) for each in index.loads.values()),
        *(Option(f.id, f"feed {f.band[0]} to {f.band[1]}") for f in index.feeds.values()),
    ]
    editor.pick("Go to", options, editor.host.go_to)


@look("escape", "", "Show the figures of the whole rig", shown_key="esc")
def whole_rig(editor: Editor) -> None:
    """With things chosen, only these are let go."""
    if editor.session.chosen:
        editor.session.chosen = ()
    else:
        editor.session.place = ""
    editor.host.redraw()
