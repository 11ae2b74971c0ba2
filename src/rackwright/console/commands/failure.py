"""The keys for what fails during the show: mark it, see the plans at once, go on with a list."""

import datetime
from collections.abc import Mapping

from rackwright.console.editor import Editor
from rackwright.console.screens.night_list import ListTable, ask_for_return, ask_what_now
from rackwright.console.screens.plans import Plans
from rackwright.console.session import Refused
from rackwright.console.widgets.dialog import Question
from rackwright.console.widgets.fields import Option
from rackwright.engine import recovery
from rackwright.model.night import NightList, moment
from rackwright.model.rig import Rig
from rackwright.units.wording import few, listed


def fail(editor: Editor) -> None:
    """Mark what is chosen or selected failed and show the plans; where it is failed, working again, or by its list's return."""
    session = editor.session
    try:
        session.refuse_where_locked(allowed_in_show=True)
    except Refused as error:
        editor.say(str(error), "yellow")
        return
    places = session.chosen or (session.place,)
    if not session.failed_here:
        new = [place for place in places if not recovery.failed_at(session.rig, place)]
        if len(new) == 1 and (gone := recovery.stood_in_for(session.rig, new[0])):
            told = f"A spare stands in for {listed(recovery.named(session.rig, gone))}."
            ask_what_now(
                editor, gone, told, also=("f", "the spare has failed", lambda: _ask_how(editor, new))
            )
        else:
            _ask_how(editor, new)
        return
    names = tuple(name for each in places for name in recovery.failed_at(session.rig, each))
    place = few(places, 3)
    lists = recovery.lists_for(session.rig, names)
    if all(not (each.moves or each.steps) and {*each.failed} <= {*names} for each in lists):
        _working(editor, place, names)
        return
    ask_what_now(editor, names, f"{place} is marked failed, and its list is: {lists[-1].title}.")


def _ask_how(editor: Editor, places: list[str]) -> None:
    """Mark places failed, asking how where all of them can fail in the same several ways."""
    ways = [recovery.ways(editor.session.assessment.index, place) for place in places]
    said = list(ways[0].values())
    if len(said) < 2 or any(list(each.values()) != said for each in ways):
        _mark(editor, [next(iter(each)) for each in ways])
        return
    answers = [(_key(words, number), words) for number, words in enumerate(said)]

    def answered(key: str | None) -> None:
        if key is not None:
            number = [key for key, _ in answers].index(key)
            _mark(editor, [list(each)[number] for each in ways])

    editor.app.push_screen(
        Question(f"What has failed at {few(places, 3)}?", answers, editor.glyphs), answered
    )


def _key(words: str, number: int) -> str:
    """The key of an answer: f again for the likeliest, the number of a pole pair, else the first letter."""
    if number == 0:
        return "f"
    return next((word for word in words.split() if word.isdigit()), "i" if "signal" in words else words[0])


def _mark(editor: Editor, names: list[str]) -> None:
    session = editor.session
    label = f"mark {few(recovery.named(session.rig, names), 3)} failed"
    when = moment(datetime.datetime.now())
    if editor.make(label, lambda rig: recovery.mark(rig, names, when), session.place, in_show=True):
        session.chosen = ()
        editor.app.push_screen(Plans(editor))


def _working(editor: Editor, place: str, names: tuple[str, ...]) -> None:
    """Those work again, and nothing was done for them."""
    label = f"mark {place} working again"

    def change(rig: Rig) -> Rig:
        return recovery.keep(rig, names) if recovery.lists_for(rig, names) else recovery.repair(rig, names)

    if editor.make(label, change, editor.session.place, in_show=True):
        editor.session.chosen = ()
        editor.say(f"{place} {'is' if place == editor.session.place else 'are'} marked working again.")
        editor.host.redraw()


def recover(editor: Editor) -> None:
    """Show the plans, a list or the return; where there are several, ask which.

    Where nothing is open the lists that are done, and plans again for what those leave silent: for the interval, after what was
    done at once.
    """
    rig = editor.session.rig
    lists = {f"list {each.id}": each for each in reversed(rig.lists) if each.steps}
    open_ = {name: each for name, each in lists.items() if not each.done}
    options = _of_lists(dict(reversed(open_.items())))  # the first first: the others begin where it ends
    if recovery.to_return(rig):
        names = ", ".join(recovery.named(rig, recovery.pending(rig))) or "what was changed for tonight"
        options.insert(0, Option("return", f"of {names}, as before the failure"))
    if fresh := recovery.to_plan_for(editor.session.assessment):
        options.insert(0, Option("plans", f"for {', '.join(recovery.named(rig, fresh))}"))
    title = "Continue which?"
    silent: tuple[str, ...] = ()
    if not options:
        title = "Every list is done. Look at which?"
        if silent := recovery.left_silent(editor.session.assessment):
            number = recovery.silent_for(editor.session.assessment, silent)
            told = f"again for {', '.join(recovery.named(rig, silent))}: {number} silent"
            options.append(Option("plans", told))
        options += _of_lists(lists)
    if not options and (failed := recovery.failed(rig)):
        editor.say(f"{listed(recovery.named(rig, failed))} marked failed: there is nothing to plan for it.")
        return
    if not options:
        editor.say("Nothing has failed. When something does, select it and press f.")
        return

    def picked(name: str) -> None:
        if name == "return":
            ask_for_return(editor)
        else:
            editor.app.push_screen(
                ListTable(editor, lists[name].id) if name in lists else Plans(editor, silent)
            )

    if len(options) == 1:
        picked(options[0].value)
    else:
        editor.pick(title, options, picked)


def _of_lists(lists: Mapping[str, NightList]) -> list[Option]:
    return [
        Option(name, f"{each.title}, {each.ticked} of {len(each.steps)} done") for name, each in lists.items()
    ]
