"""`explain`: what a finding means, the limit it is judged by with its source, and what to do."""

import click

from rackwright.cli.opening import Refusal, meant
from rackwright.cli.page import Page
from rackwright.cli.status import USAGE
from rackwright.cli.words import CODE
from rackwright.engine.findings.meanings import MEANINGS, Meaning


@click.command()
@click.argument("code", type=CODE, required=False)
def command(code: str | None) -> None:
    """Say what a finding means and what to do.

    CODE is the word behind a finding, such as cable-loss. Without one, lists them all.
    """
    if code is None:
        codes_page().print()
        return
    if code not in MEANINGS:
        hint = meant(code, MEANINGS, "rackwright explain lists those that there are.")
        raise Refusal(f'No finding is called "{code}". {hint}', USAGE)
    meaning_page(code, MEANINGS[code]).print()


def codes_page() -> Page:
    """Every code with what it means."""
    page = Page()
    page.heading("Findings by their code")
    for code, meaning in MEANINGS.items():
        page.say(meaning.means, first=f"{code}: ", rest="  ")
    return page


def meaning_page(code: str, meaning: Meaning) -> Page:
    """What one finding means."""
    page = Page()
    page.heading(code)
    page.say(meaning.means)
    if limits := meaning.limit_words():
        page.heading("Limit" if len(limits) == 1 else "Limits")
        for words in limits:
            page.say(words, first="- ")
    page.heading("What to do")
    page.say(meaning.do)
    return page
