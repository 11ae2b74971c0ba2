"""The keys that show something of the rig and change nothing in it."""

from functools import partial

from rackwright.console import keymap, narrowing
from rackwright.console.editor import Editor
from rackwright.console.keymap import command
from rackwright.console.related import feeds_of
from rackwright.console.widgets.fields import Option
from rackwright.engine.finding import Finding
from rackwright.units.wording import so_many

look = partial(command, "Look", in_show=True)


@look("v", "findings", "List every finding; enter jumps to its place", also="errors warnings problems stops")
def findings(editor: Editor) -> None:
    from rackwright.console.screens.pages import FindingsList

    def picked(place: str | None) -> None:
        if place:
            editor.host.go_to(place)

    editor.app.push_screen(FindingsList(editor.session.assessment.findings, editor.glyphs), picked)


@look("w", "why", "Show the working of a figure", also="formula calculation source")
def why(editor: Editor) -> None:
    from rackwright.console.screens.pages import working_page

    if (target := editor.host.figure) is not None:
        editor.app.push_screen(working_page(editor.session.assessment, *target, editor.glyphs))
        return
    editor.host.bring_forward(2)
    editor.say("Up and down go to a figure, w or enter shows its working.")


@look("g", "graph", "Plot impedance and level over frequency", also="curve response impedance plot")
def graph(editor: Editor) -> None:
    from rackwright.console.screens.graph import Graph

    session = editor.session
    editor.app.push_screen(Graph(session.assessment, session.place, editor.glyphs, session.kept))


@look(
    "M",
    "mains",
    "Mains: intake, boards, circuits, loads as a tree",
    also="supply power board breaker circuit",
)
def mains(editor: Editor) -> None:
    from rackwright.console.screens.mains import MainsTree

    editor.app.push_screen(MainsTree(editor))


@look(
    "W",
    "doors",
    "Whole rig: is it ready for doors?",
    also="ready open stops lines lists papers unprinted overview",
)
def ready_for_doors(editor: Editor) -> None:
    """Stops, lines that are not proved, lists that are not ticked off, changes not on paper, changes not saved."""
    from rackwright.console.commands.papers import papers_folder
    from rackwright.console.screens.ready import ReadyPage
    from rackwright.engine.readiness import Point, readiness
    from rackwright.papers.output import unprinted

    session = editor.session
    folder = papers_folder(session.path, session.rig.venue)
    changes = unprinted(session.rig, folder)
    if changes is None:
        printed = Point("papers not written", "Write the papers.", (f'none in the folder "{folder}"',))
    else:
        count = f"{so_many(len(changes), 'change')} since the papers were written"
        printed = Point(count, "Write the papers again.", tuple(map(str, changes)))
    kept = (
        () if not session.unsaved else ("edits since the last save" if session.saved else "in no file yet",)
    )
    saved = Point("not saved" if kept else "saved", "Save the rig.", kept)
    points = (
        *zip(readiness(session.assessment), ("v", "i", "R"), strict=True),
        (printed, "x"),
        (saved, "s"),
    )

    def picked(key: str | None) -> None:
        if key:
            editor.do(next(each for each in keymap.COMMANDS if each.key_words == key))

    editor.app.push_screen(ReadyPage(points, editor.glyphs), picked)


@look(
    "k",
    "compare",
    "Compare: show changed figures as before → now, or stop",
    now=lambda session: "compare" if session.kept is None else "stop comparing",
    also="before after difference",
)
def compare(editor: Editor) -> None:
    if editor.session.kept is None:
        editor.session.keep()
        editor.say("Comparing: changed figures show before → now in the results. Press k to stop.")
    else:
        editor.session.kept = None
        editor.say("Comparing is off.")
    editor.host.redraw()


@look("i", "meter", "Check the lines with a meter, see which faults fit", also="impedance test measure line")
def meter_check(editor: Editor) -> None:
    from rackwright.console.screens.meter_check import MeterCheck

    editor.app.push_screen(MeterCheck(editor))


@look(
    "equals_sign",
    "differences",
    "Compare with the saved rig, a preset, a file or a moment",
    shown_key="=",
    also="diff changes",
)
def differences(editor: Editor) -> None:
    from rackwright.console.commands import comparison

    comparison.ask(editor)


@look(
    "n",
    "next finding",
    "Go to the next finding, the most severe first",
    now=lambda s: "next finding" if s.assessment.findings else "",
)
def next_finding(editor: Editor) -> None:
    _to_finding(editor, 1)


@look("N", "", "Go to the finding before")
def previous_finding(editor: Editor) -> None:
    _to_finding(editor, -1)


def _to_finding(editor: Editor, by: int) -> None:
    """To the next place that has findings; what the first of them says is shown."""
    session = editor.session
    found: dict[str, Finding] = {}
    for each in session.assessment.findings:
        if each.at and session.exists(each.at):
            found.setdefault(each.at, each)
    places = list(found)
    if not places:
        editor.say("No problems found.")
        return
    at = places.index(session.place) + by if session.place in found else 0 if by > 0 else -1
    finding = found[places[at % len(places)]]
    editor.host.go_to(finding.at)
    style = {"stop": "bold red", "warn": "yellow"}.get(finding.severity, "")
    editor.say(
        f"{at % len(places) + 1} of {so_many(len(places), 'place')}: {finding.severity} {finding.message}",
        style,
    )


@look("slash", "find", "Find an id, feed, model or finding", shown_key="/", also="search go to jump")
def find(editor: Editor) -> None:
    """Among ids with what is told of them, then findings; those that the panes show can be chosen as a whole."""
    session = editor.session
    assessment, index = session.assessment, session.assessment.index
    feeds = {name: " ".join(feeds_of(assessment, name)) for name in index.cabinets}
    things = [
        *(Option(r.id, f"rack {r.name}") for r in index.racks.values()),
        *(Option(a.id, f"amplifier {a.model}") for a in index.amplifiers.values()),
        *(Option(b.id, f"channel, {b.result.feed or 'no feed'}") for b in assessment.branches.values()),
        *(Option(s.id, f"socket {s.connector}") for s in index.sockets.values()),
        *(pole._replace(words=f"pole pair {pole.words}") for pole in editor.options.poles()),
        *(Option(n.id, f"line to {n.to}", n.cable) for n in index.lines.values()),
        *(
            Option(c.id, ", ".join(filter(None, (f"cabinet {c.model}", c.position))), feeds[c.id])
            for c in index.cabinets.values()
        ),
        *(Option(name, f"{s.kind} section", feeds[s.cabinet]) for name, s in assessment.sections.items()),
        *(Option(c.id, f"circuit {c.phase}, {c.breaker}") for c in index.circuits.values()),
        *(Option(b.id, f"board {b.phase} {b.rating or ''}".rstrip()) for b in index.boards.values()),
        *(Option(phase, "phase") for phase in sorted(index.used_phases)),
        *(Option(each.id, f"load {each.name}".rstrip()) for each in index.loads.values()),
        *(Option(f.id, f"feed, {f.band[0]} to {f.band[1]}") for f in index.feeds.values()),
    ]
    findings = [
        Option(each.at, f"{each.severity} {each.message}")
        for each in assessment.findings
        if each.at and session.exists(each.at)
    ]

    def choose(names: list[str]) -> None:
        seen = narrowing.shown(assessment, session.only, dict.fromkeys(names))
        if not seen:
            editor.say(f"None of them is shown: only {session.only} is. Press O to show all.", "yellow")
            return
        session.choose(*seen)
        editor.host.redraw()
        editor.say(f"{len(session.chosen)} are chosen: keys that edit act on all. esc lets them go.")

    editor.pick("Find", [*things, *findings], editor.host.go_to, all_of_them=("choose all shown", choose))


@look(
    "O",
    "only",
    "Show only stops and warnings, a feed, rack or side",
    also="filter narrow hide",
    now=lambda s: "all" if s.only else "only",
)
def only(editor: Editor) -> None:
    """Where that is so already: show all again."""
    session = editor.session
    if session.only:
        session.only = ""
        editor.host.redraw()
        return

    def picked(told: str) -> None:
        session.only = told
        session.place = ""
        editor.host.redraw()
        editor.say(f"Showing only {told}. Press O to show all.")

    editor.pick("Show only", [Option(told) for told in narrowing.choices(session.assessment)], picked)


@look(
    "escape",
    "",
    "Show the figures of the whole rig; let go what is chosen",
    shown_key="esc",
    now=lambda session: "let go" if session.chosen else "",
)
def whole_rig(editor: Editor) -> None:
    """With things chosen, only these are let go."""
    if editor.session.chosen:
        editor.session.chosen = ()
    else:
        editor.session.place = ""
    editor.host.redraw()
