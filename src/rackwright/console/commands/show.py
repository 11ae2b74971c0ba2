"""The keys for a failure during the show."""

from functools import partial

from rackwright.console.editor import Editor
from rackwright.console.keymap import command
from rackwright.console.related import KINDS
from rackwright.console.session import Session

show = partial(command, "Show", in_show=True)
CAN_FAIL = frozenset({*KINDS, "channel", "pole", "section", "line pair", "phase"})


def _marks(session: Session) -> str:
    return "working" if session.failed_here else "fail"


@show(
    "f",
    "fail",
    "Mark it, or all chosen, failed or working; see the plans",
    CAN_FAIL,
    edits=True,
    many=True,
    now=_marks,
    also="broken dead fault",
)
def fail(editor: Editor) -> None:
    from rackwright.console.commands import failure

    failure.fail(editor)


@show("h", "heard", "From what is heard to what has failed", also="diagnose noise silent")
def heard(editor: Editor) -> None:
    from rackwright.console.screens.diagnosis import DiagnosisScreen

    editor.app.push_screen(DiagnosisScreen(editor))


@show(
    "R", "recover", "Plans for what has failed; a plan's list, and its return", also="repair plan emergency"
)
def recover(editor: Editor) -> None:
    from rackwright.console.commands import failure

    failure.recover(editor)


@show("F", "", "Rehearse: every failure in turn, the worst first", also="simulate practice")
def rehearse(editor: Editor) -> None:
    from rackwright.console.screens.rehearsal import RehearsalTable

    editor.app.push_screen(RehearsalTable(editor))


@show(
    "L",
    "lock",
    "Lock the rig against edits, or unlock it",
    edits=True,
    now=lambda session: "unlock" if session.edit_locked else "lock",
    also="show mode protect",
)
def edit_lock(editor: Editor) -> None:
    session = editor.session
    session.lock_edits(not session.edit_locked)
    on = "Edit lock on: only failures, plans and ticks change the rig now."
    if session.edit_locked and (wrong := session.wrong_pairs):
        told = f"{', '.join(wrong[:4])}{' …' if len(wrong) > 4 else ''}"
        editor.say(f"Edit lock on. Meter check, {len(wrong)} wrong: {told}. Fix before power.", "red")
    else:
        editor.say(on if session.edit_locked else "Edit lock off.")
    editor.host.redraw()


def _control(session: Session) -> str:
    return session.control and "control"


@show(
    "C",
    "control",
    "Control of the rig: ask for it, offer, give or take it",
    now=_control,
    also="share hand over",
)
def control(editor: Editor) -> None:
    from rackwright.console.commands import control

    control.ask(editor)
