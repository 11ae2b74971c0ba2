"""`diagnose`: what may have failed, from what is heard."""

from collections.abc import Iterable, Mapping
from typing import Any, TypeVar

import click

from rackwright.cli.opening import Refusal, opened
from rackwright.cli.page import Page, Span, emit
from rackwright.cli.report import REPORT_FORMAT, json_text
from rackwright.cli.status import USAGE
from rackwright.cli.words import HEARD, RIG
from rackwright.engine import cautions, diagnosis
from rackwright.engine.diagnosis import OUTCOMES, AnswerError, Diagnosis, NextTest, Suspect, Table
from rackwright.engine.recovery import failed
from rackwright.model.rig import Rig
from rackwright.units.wording import few

MOST_CAUSES = 20
"""Causes told unless all are asked for."""

V = TypeVar("V")


@click.command()
@click.argument("rig", type=RIG)
@click.option(
    "--heard",
    metavar="PLACE=HEARD",
    type=HEARD,
    multiple=True,
    help="What is heard: TOP-R1.high=quiet, SUB-R1=plays, right=dull; repeat for more.",
)
@click.option(
    "--found", metavar="TEST=OUTCOME", multiple=True, help='What a test showed: "lights A1.2=dark".'
)
@click.option("--all", "everything", is_flag=True, help="List every cause that agrees.")
@click.option("--json", "as_json", is_flag=True, help="Print the report as JSON.")
def command(rig: str, heard: tuple[str, ...], found: tuple[str, ...], everything: bool, as_json: bool) -> int:
    """Find what may have failed, from what is heard.

    PLACE is a section, a cabinet, a feed, left or right; HEARD is plays, quiet, silent, distorted or humming,
    and of several sections also dull or thin. What isn't answered is unknown. What RIG holds as heard counts too.
    """
    loaded = opened(rig).rig
    if not heard and not loaded.heard:
        raise Refusal("Say what is heard: --heard TOP-R1.high=quiet; repeat it for more.", USAGE)
    table = Table(loaded)
    try:
        answers = _once((diagnosis.read_answer(table, text) for text in heard), "--heard")
        shown = _once(
            (
                (check.id, outcome)
                for text in found
                for check, outcome in (diagnosis.read_found(table, text),)
            ),
            "--found",
        )
        told = diagnosis.diagnose(
            table,
            diagnosis.kept(table, loaded.heard) | answers,
            diagnosis.kept_found(table, loaded.heard) | shown,
        )
    except AnswerError as error:
        raise Refusal(str(error), USAGE) from None
    if as_json:
        emit(json_text(diagnosis_report(loaded, table, told)))
    else:
        diagnosis_page(loaded, table, told, everything).print()
    return 0 if told.suspects or told.nothing_new else 1


def _once(answers: Iterable[tuple[str, V]], option: str) -> dict[str, V]:
    """The answers by place. Raises AnswerError where two for one place differ."""
    read: dict[str, V] = {}
    for place, said in answers:
        if read.setdefault(place, said) != said:
            raise AnswerError(f"{option} says both {read[place]} and {said} of {place}: leave one out.")
    return read


def diagnosis_page(rig: Rig, table: Table, told: Diagnosis, everything: bool) -> Page:
    """The caution, what was heard, what agrees with it, and the next test."""
    page = Page()
    page.say(Span(cautions.SMOKE, "caution"))
    page.say(Span(rig.title, "bold"))
    if marked := failed(rig):
        page.say(f"Marked failed already: {few(marked)}.")
    page.say(f"Heard: {_listed(told.answers)}.")
    if told.found:
        page.say(f"Found: {_listed(told.found)}.")
    page.heading("What may have failed, likeliest first")
    if told.doubt:
        page.say(told.doubt)
    page.say(_agreement(told))
    groups = (
        [(each,) for each in told.suspects] if everything else diagnosis.grouped(table, told)[:MOST_CAUSES]
    )
    if groups and not (told.nothing_new and not everything):
        rows = [
            (
                few(tuple(suspect.name for suspect in alike)),
                ", ".join(alike[0].kinds),
                diagnosis.likely(sum(suspect.share for suspect in alike)),
                few(alike[0].at),
            )
            for alike in groups
        ]
        page.table(("cause", "what", "likely", "affects"), rows, right=("likely",))
        if more := len(told.suspects) - sum(map(len, groups)):
            page.say(Span(f"{more} more agree: list them with --all.", "dim"))
        page.say(Span("How likely: common practice, no source.", "dim"))
    for sentence in diagnosis.advice(table, told):
        page.say(sentence)
    if told.next_test:
        _next_test(page, told.next_test)
    page.gap()
    page.say(Span(cautions.RECOVERING, "caution"))
    return page


def _agreement(told: Diagnosis) -> str:
    if told.nothing_new:
        return (
            "All of this is so with nothing more failed than is marked. Say what is wrong to hear. "
            f"{len(told.suspects)} causes agree too."
        )
    if not told.suspects:
        return (
            "No single cause and no pair of causes agrees with all of this. Listen again to what is doubtful."
        )
    if told.paired:
        return "No single cause agrees with all of this. These pairs do:"
    return "1 cause agrees:" if len(told.suspects) == 1 else f"{len(told.suspects)} causes agree:"


def _listed(answers: Mapping[str, str]) -> str:
    return ", ".join(f"{place}: {said}" for place, said in answers.items())


def _next_test(page: Page, test: NextTest) -> None:
    page.heading(f"Next test, {test.check.seconds:.0f} s")
    page.say(test.check.words)
    words = OUTCOMES[test.check.kind]
    rows = [
        (words[split.outcome], split.outcome, diagnosis.likely(split.share), few(split.names))
        for split in test.splits
    ]
    page.table(("if", "write", "likely", "then it is"), rows, right=("likely",))
    option, place = (
        ("--heard", test.check.place) if test.check.kind == "listen" else ("--found", test.check.id)
    )
    page.say("Add what it shows:")
    page.to_copy(f'{option} "{place}={test.splits[0].outcome}"')


def diagnosis_report(rig: Rig, table: Table, told: Diagnosis) -> dict[str, Any]:
    """The report of `diagnose` as plain data."""
    return {
        "format": REPORT_FORMAT,
        "rig": rig.name,
        "caution": cautions.SMOKE,
        "marked_failed": failed(rig),
        "heard": [{"place": place, "heard": word} for place, word in told.answers.items()],
        "found": [{"test": test, "outcome": outcome} for test, outcome in told.found.items()],
        "nothing_new": told.nothing_new,
        "pairs": told.paired,
        "doubtful": told.doubtful,
        "causes": [_suspect_report(suspect) for suspect in told.suspects],
        "advice": diagnosis.advice(table, told),
        "next_test": _test_report(told.next_test) if told.next_test else None,
    }


def _suspect_report(suspect: Suspect) -> dict[str, Any]:
    return {
        "names": suspect.names,
        "kinds": suspect.kinds,
        "heard": suspect.heard,
        "share": suspect.share,
        "sections": suspect.at,
    }


def _test_report(test: NextTest) -> dict[str, Any]:
    return {
        "test": test.check.id,
        "words": test.check.words,
        "seconds_s": test.check.seconds,
        "bits": test.bits,
        "outcomes": [
            {
                "outcome": split.outcome,
                "words": OUTCOMES[test.check.kind][split.outcome],
                "share": split.share,
                "causes": split.names,
            }
            for split in test.splits
        ],
    }
