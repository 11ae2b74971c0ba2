"""The keys for what fails during the show: mark it, see the plans at once, go on with a list."""

from rackwright.console.editor import Editor
from rackwright.console.screens.night_list import ListTable, ask_what_now, take_return
from rackwright.console.screens.plans import Plans
from rackwright.console.widgets.fields import Option
from rackwright.engine import recovery


def fail(editor: Editor) -> None:
    """Mark what is selected failed and show the plans; where it is failed, working again, or by its list's return."""
    session = editor.session
    place = session.place
    names = recovery.failed_at(session.rig, place)
    if not session.failed_here:
        if editor.make(f"mark {place} failed", lambda rig: recovery.mark(rig, [place]), place, in_show=True):
            editor.app.push_screen(Plans(editor))
        return
    if not recovery.lists_for(session.rig, names):
        _working(editor, place, names)
        return
    lists = recovery.lists_for(session.rig, names)
    ask_what_now(editor, names, f"{place} is marked failed, and its list is: {lists[-1].title}.")


def _working(editor: Editor, place: str, names: tuple[str, ...]) -> None:
    label = f"mark {place} working again"
    if editor.make(label, lambda rig: recovery.repair(rig, names), place, in_show=True):
        editor.say(f"{place} is marked working again.")


def recover(editor: Editor) -> None:
    """Show the plans, a list or the return; where there are several, ask which."""
    rig = editor.session.rig
    lists = {f"list {each.id}": each for each in reversed(rig.lists) if each.steps}
    options = [
        Option(name, f"{each.title}, {each.ticked} of {len(each.steps)} done") for name, each in lists.items()
    ]
    if recovery.to_return(rig):
        names = ", ".join(recovery.named(rig, recovery.pending(rig))) or "what was changed for tonight"
        options.insert(0, Option("return", f"of {names}, as before the failure"))
    if fresh := recovery.unplanned(rig):
        options.insert(0, Option("plans", f"for {', '.join(recovery.named(rig, fresh))}"))
    if not options:
        editor.say("Nothing has failed. Select a channel, an amplifier, a rack or a circuit and press f.")
        return

    def picked(name: str) -> None:
        if name == "return":
            take_return(editor)
        else:
            editor.app.push_screen(ListTable(editor, lists[name].id) if name in lists else Plans(editor))

    if len(options) == 1:
        picked(options[0].value)
    else:
        editor.pick("Continue which?", options, picked)
