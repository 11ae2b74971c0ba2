"""`check`: every channel, section, circuit and rack, then the findings and the verdict."""

from collections.abc import Sequence
from typing import NamedTuple

import click

from rackwright.cli.opening import opened
from rackwright.cli.options import coil_temperature
from rackwright.cli.page import Page, Span, emit
from rackwright.cli.report import json_text, report
from rackwright.cli.status import of_verdict
from rackwright.cli.words import RIG
from rackwright.engine import cautions, figures, outage
from rackwright.engine.assess import Assessed, assess
from rackwright.engine.conductor import WORN
from rackwright.engine.demand import CircuitResult
from rackwright.engine.finding import Finding, grouped, message_of, places
from rackwright.engine.hot_coils import heated
from rackwright.engine.levels import level_rows
from rackwright.model.rig import Rig
from rackwright.units import Temperature, capped, short

ALLOWED = (
    "Allowed: highest safe rms limiter, in volts at the output and in dBu at the input; the lowest dBu of a feed's "
    "channels is what its processor output may be set to."
)
HONEST = (
    "Past a damping factor of about 20 the voice coil's own resistance rules (common practice, no source); "
    "compare the two Q figures."
)

MOST_ALIKE = 3
"""Of more notes of one code than this, the first is told in full and the others by their places."""
MOST_PLACES = 12
INDENT = " " * 5
"""The words of a finding stand behind its severity."""


class Hot(NamedTuple):
    """The same rig with hot voice coils."""

    temperature: Temperature
    assessment: Assessed


@click.command()
@click.argument("rig", type=RIG)
@click.option("--json", "as_json", is_flag=True, help="Print the report as JSON.")
@click.option(
    "--coil", metavar="TEMPERATURE", help='Power, damping and Q with hot coils, such as "150 degC".'
)
@click.option("--worn", is_flag=True, help="Damping and loss with worn contacts, and levels by feed.")
def command(rig: str, as_json: bool, coil: str | None, worn: bool) -> int:
    """Check a whole rig: its figures, and what is wrong."""
    temperature = coil_temperature(coil)
    if as_json and (temperature is not None or worn):
        raise click.UsageError("--coil and --worn are for the tables: leave out --json.")
    loaded = opened(rig).rig

    assessment = assess(loaded)
    if as_json:
        emit(json_text(report(loaded, assessment)))
        return of_verdict(assessment.worst())

    hot = None
    if temperature is not None:
        hot = Hot(temperature, assess(heated(loaded, temperature.value)))
    check_page(loaded, assessment, hot, worn).print()
    return of_verdict(assessment.worst())


def check_page(rig: Rig, assessment: Assessed, hot: Hot | None = None, worn: bool = False) -> Page:
    """The whole judgement."""
    page = Page()
    page.say(Span(rig.title, "bold"))
    page.heading("Channels at full power")
    _channels(page, assessment)
    page.heading("Sections")
    _sections(page, assessment)
    if any(section.q_total is not None for section in assessment.sections.values()):
        page.say(Span(HONEST, "dim"))
    if hot is not None:
        page.heading(f"Sections with voice coils at {hot.temperature}")
        _hot(page, assessment, hot.assessment)
    if worn:
        page.heading(f"Sections with worn contacts: {WORN:g} × the resistance (common practice, no source)")
        _worn(page, assessment)
        _levels(page, assessment)
    if assessment.circuits:
        page.heading("Circuits: programme, and driven hard")
        _circuits(page, assessment)
    page.heading("Racks")
    _racks(page, assessment)
    page.heading("Findings")
    findings(page, assessment.findings)
    _explained(page, assessment.findings)
    _verdict(page, assessment)
    page.say(Span(cautions.PLANNING, "caution"))
    return page


def _channels(page: Page, assessment: Assessed) -> None:
    numbers = ("load Ω", "min Ω", "V", "A", "W", "allowed V", "dBu")
    own = {failed.at: failed.what for failed in outage.marked(assessment.index.rig)}
    rows = []
    for c in assessment.channels.values():
        if assessment.branches[c.id].second_of_bridge:
            continue
        dead = own.get(c.id) or (c.outage and str(c.outage))
        state = dead or ("bridged" if c.mode == "bridged" else "ok")
        told = figures.of_channel(assessment.branches[c.id])
        values = figures.cells(told, "load_nominal", "load_minimum", "voltage", "current", "power")
        limits = (c.limiter_rms, c.limiter_rms_dbu)
        rows.append((c.id, c.feed or "–", state, *values, *map(capped, limits)))
    page.table(("channel", "feed", "state", *numbers), rows, right=numbers)
    page.say(Span(ALLOWED, "dim"))


def _sections(page: Page, assessment: Assessed) -> None:
    numbers = ("full W", "headroom dB", "loss dB", "damping", "Q", "Q ideal")
    names = ("power", "headroom", "loss", "damping_factor", "q_total", "q_total_ideal")
    signs = {1: "+", -1: "−", None: ""}
    told = {
        branch.sections[n].id: figures.of_section(branch, n)
        for branch in assessment.branches.values()
        for n in range(len(branch.sections))
    }
    rows = [
        (
            s.id,
            s.channel or f"silent: {assessment.silence(s.id).removeprefix(f'{s.id} ')}",
            signs[s.polarity],
            *figures.cells(told.get(s.id, ()), *names),
        )
        for s in assessment.sections.values()
    ]
    page.table(("section", "channel", "±", *numbers), rows, right=numbers)


def _hot(page: Page, cold: Assessed, hot: Assessed) -> None:
    numbers = ("W cold", "W hot", "damping cold", "hot", "Q cold", "Q hot")
    rows = [
        (
            name,
            *map(short, (c.power, h.power, c.damping_factor, h.damping_factor, c.q_total, h.q_total)),
        )
        for name, c in cold.sections.items()
        for h in (hot.sections[name],)
        if c.channel is not None
    ]
    page.table(("section", *numbers), rows, right=numbers)


def _worn(page: Page, assessment: Assessed) -> None:
    numbers = ("damping", "worn", "loss dB", "worn dB", "band top dB")
    rows = [
        (
            s.id,
            *map(short, (s.damping_factor, s.damping_factor_worn, s.loss, s.loss_worn, s.band_top_loss)),
        )
        for s in assessment.sections.values()
        if s.channel is not None
    ]
    page.table(("section", *numbers), rows, right=numbers)


def _levels(page: Page, assessment: Assessed) -> None:
    numbers = ("dB at 2.83 V", "full power dB", "under the loudest dB")
    if rows := level_rows(assessment):
        page.heading("Levels at 1 m, by feed")
        page.table(("feed", "cabinets", "section", *numbers), rows, right=numbers)


def breaker(assessment: Assessed, circuit: CircuitResult) -> str:
    """A circuit's breaker with its curve, where it has one: `C 16 A`."""
    known = assessment.index.circuits[circuit.id]
    return assessment.index.rig.supply.device(known.breaker, known.curve)


def carried(assessment: Assessed, circuit: CircuitResult, *told: str) -> tuple[str, ...]:
    """The cells of what a circuit carries: of one that is dead, why it is and dashes."""
    dead = outage.at(assessment.index, circuit.id)
    if dead is None:
        return told
    return (dead.what if dead.at == circuit.id else str(dead), *["–"] * (len(told) - 1))


def _circuits(page: Page, assessment: Assessed) -> None:
    numbers = ("A", "hard", "%", "hard", "drop %", "hard", "inrush A")
    names = "programme_current", "heavy_current", "loading", "loading_heavy", "drop", "drop_heavy", "inrush"
    rows = [
        (
            c.id,
            c.phase,
            breaker(assessment, c),
            *carried(assessment, c, *figures.cells(figures.of_circuit(assessment, c.id), *names)),
        )
        for c in assessment.circuits.values()
    ]
    page.table(("circuit", "phase", "breaker", *numbers), rows, right=numbers)


def _racks(page: Page, assessment: Assessed) -> None:
    numbers = ("units", "of", "amplifiers kg", "VA", "heat W", "BTU/h")
    rows = [
        (
            r.id,
            f"{r.units_used}",
            f"{r.units}",
            *map(short, (r.weight, r.apparent, r.heat, r.heat_btu)),
        )
        for r in assessment.racks.values()
    ]
    page.table(("rack", *numbers), rows, right=numbers)


def findings(page: Page, found: Sequence[Finding]) -> None:
    """Every finding, the gravest first, those that say the same once; of many notes of a kind all but the first are told by
    their places.
    """
    groups = grouped(found)
    alike: dict[str, list[tuple[Finding, ...]]] = {}
    for group in groups:
        if group[0].severity == "note":
            alike.setdefault(group[0].code, []).append(group)
    for group in groups:
        same = alike.get(group[0].code, []) if group[0].severity == "note" else []
        if len(same) <= MOST_ALIKE:
            _finding(page, group)
        elif group is same[0]:
            _finding(page, group)
            page.say(_others([other.at for group in same[1:] for other in group]), first=INDENT)


def _explained(page: Page, found: Sequence[Finding]) -> None:
    """Where to read what they mean."""
    if codes := sorted({finding.code for finding in found}):
        page.gap()
        page.say(
            Span(
                f"What each means, its limit and source: rackwright explain, then {', '.join(codes)}.", "dim"
            )
        )


def _others(places: list[str]) -> str:
    shown = ", ".join(places[:MOST_PLACES])
    more = f" and {len(places) - MOST_PLACES} others; --json lists all" if len(places) > MOST_PLACES else ""
    return f"And {len(places)} more like it: {shown}{more}."


def _finding(page: Page, group: Sequence[Finding]) -> None:
    finding = group[0]
    severity = Span(finding.severity, finding.severity)
    page.say(severity, Span(places(group, MOST_PLACES), "bold"), message_of(group), rest=INDENT)
    if finding.advice:
        page.say(Span(f"→ {finding.advice}", "dim"), first=INDENT)


def _verdict(page: Page, assessment: Assessed) -> None:
    counts = ", ".join(assessment.counts())
    page.gap()
    page.say(Span(f"{counts}.", assessment.worst() or "good"), assessment.verdict)
