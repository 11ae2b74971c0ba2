"""The key for control: it asks what there is to decide as the consoles on the rig stand."""

from rackwright.console import control as consoles
from rackwright.console.editor import Editor
from rackwright.console.widgets.dialog import Question

GOES_WITH_IT = "Undo, edit lock, what is chosen and the cursor go with it."


def ask(editor: Editor) -> None:
    """In control, answer who asks, or offer it; else ask for it, take it up, or take it where nobody answers."""
    if editor.document.in_control:
        _in_control(editor)
    elif editor.session.follows:
        _following(editor)
    else:
        editor.say("Only a saved rig can be open on two screens at once. Press s to save this one.", "yellow")


def _in_control(editor: Editor) -> None:
    control = editor.document.control
    if control.asking is not None:
        told = f"{control.asking} asks for control. {GOES_WITH_IT}"
        answers = [("y", f"give control to {control.asking}"), ("n", "keep control")]
    elif control.offers:
        told, answers = "Control is offered: whoever presses C gets it.", [("w", "withdraw the offer")]
    elif control.others:
        who = ", ".join(map(str, control.others))
        told = f"This console has control. It is followed by: {who}. {GOES_WITH_IT}"
        answers = [("o", "offer control: whoever presses C there gets it")]
    else:
        editor.say("This console has control, and no other has the rig open.")
        return

    def answered(answer: str | None) -> None:
        if answer == "y":
            _said(editor, control.give())
        elif answer == "n":
            control.refuse()
            editor.say("Control stays here.")
        elif answer is not None:
            control.offer(answer == "o")
            editor.say("Control is offered." if answer == "o" else "Control is not offered any more.")

    editor.app.push_screen(Question(told, answers, editor.glyphs), answered)


def _following(editor: Editor) -> None:
    control = editor.document.control
    holder = control.holder
    if control.nobody:
        told, answers = "Nobody has control: the console that had it has ended.", [("t", "take control")]
    elif not control.asked or (holder is not None and holder.offers):
        control.ask()
        taken = holder is not None and holder.offers
        editor.say(
            "Taking control."
            if taken
            else f"Asked {holder or 'the other console'} for control. Wait for the answer."
        )
        return
    elif control.silent >= consoles.SILENCE:
        told = f"{holder or 'The console in control'} has given no sign for {control.silent:.0f} s."
        answers = [
            ("t", "take control: that console then follows; if it hangs, it is ended, its rig kept"),
            ("w", "ask no longer"),
        ]
    else:
        told = f"{holder or 'The console in control'} is asked for control and has not answered yet."
        answers = [("w", "ask no longer")]

    def answered(answer: str | None) -> None:
        if answer == "w":
            control.withdraw()
        elif answer == "t":
            _said(editor, control.take() if control.nobody else control.insist())

    editor.app.push_screen(Question(told, answers, editor.glyphs), answered)


def _said(editor: Editor, told: str) -> None:
    editor.host.redraw()
    editor.say(told, "yellow")
