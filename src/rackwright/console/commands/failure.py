"""The keys for what fails during the show: mark it, see the plans at once, go on with a checklist."""

from rackwright.console.editor import Editor
from rackwright.console.screens.checklist import ChecklistTable, no_return, repaired
from rackwright.console.screens.plans import Plans
from rackwright.console.widgets.dialog import Question
from rackwright.console.widgets.fields import Option
from rackwright.engine import recovery


def fail(editor: Editor) -> None:
    """Mark what is selected failed and show the plans; where it is failed, working again, or by its list's return."""
    session = editor.session
    place = session.place
    names = recovery.failed_at(session.rig, place)
    if not session.failed_here:
        if editor.make(f"mark {place} failed", lambda rig: recovery.fail(rig, [place]), place, in_show=True):
            editor.app.push_screen(Plans(editor))
        return
    checklists = recovery.lists_for(session.rig, names)
    if not checklists:
        _working(editor, place, names)
        return
    checklist = checklists[-1]
    told = f"{place} is marked failed, and its list is: {checklist.title}."
    answers = [("c", "show the list"), ("s", "mark it working and keep the patch as it is now")]
    if len(checklists) > 1:
        told = f"{place} has several failures, each with its own list and return. Press R for the lists."
        answers = answers[1:]
    elif refusal := no_return(session.rig, checklist):
        told += f" Its return can't be taken now. {refusal}"
    else:
        answers.insert(0, ("b", repaired(session.rig, checklist)))

    def answered(answer: str | None) -> None:
        if answer == "b":
            label = f"return for {', '.join(recovery.named(editor.session.rig, checklist.failed))}"
            if editor.make(label, lambda rig: recovery.go_back(rig, checklist.id), in_show=True):
                editor.app.push_screen(ChecklistTable(editor, checklist.id))
        elif answer == "c":
            editor.app.push_screen(ChecklistTable(editor, checklist.id))
        elif answer == "s":
            _working(editor, place, names)

    editor.app.push_screen(Question(told, answers, editor.glyphs), answered)


def _working(editor: Editor, place: str, names: tuple[str, ...]) -> None:
    label = f"mark {place} working again"
    if editor.make(label, lambda rig: recovery.repaired(rig, names), place, in_show=True):
        editor.say(f"{place} is marked working again.")


def recover(editor: Editor) -> None:
    """Show the plans or the checklist there is; where there are several, ask which."""
    rig = editor.session.rig
    lists = {f"list {each.id}": each for each in reversed(rig.checklists)}
    options = [
        Option(name, f"{each.title}, {each.ticked} of {len(each.steps)} done") for name, each in lists.items()
    ]
    if fresh := recovery.unplanned(rig):
        options.insert(0, Option("plans", f"for {', '.join(recovery.named(rig, fresh))}"))
    if not options:
        editor.say("Nothing has failed. Select a channel, an amplifier, a rack or a circuit and press f.")
        return

    def picked(name: str) -> None:
        editor.app.push_screen(ChecklistTable(editor, lists[name].id) if name in lists else Plans(editor))

    if len(options) == 1:
        picked(options[0].value)
    else:
        editor.pick("Continue which?", options, picked)
