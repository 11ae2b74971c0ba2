"""Tables for people: at most 80 columns where the terminal is no wider, words before colour."""

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

from rackwright.engine import figures as known
from rackwright.engine.assess import Assessed
from rackwright.engine.results import SEVERITIES, Finding
from rackwright.engine.working import NoWorkingError, Working, no_place
from rackwright.model.equipment import Equipment
from rackwright.model.rig import Rig
from rackwright.units import Temperature, figure, reading

if TYPE_CHECKING:
    from rackwright.store.presets import Preset

STYLE = {"stop": "bold red", "warn": "yellow", "note": "cyan"}

HONEST = "Past a damping factor of about 20 the voice coil's own resistance rules; compare the two Q figures."


def _console() -> Console:
    return Console(highlight=False, emoji=False)


def _table(*columns: str, right: Sequence[str] = ()) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="dim")
    for column in columns:
        table.add_column(
            column, justify="right" if column in right else "left", overflow="fold", no_wrap=False
        )
    return table


def _short(value: float | None, digits: int = 3) -> str:
    return "–" if value is None else figure(value, digits)


def check(rig: Rig, assessment: Assessed, hot: tuple[Temperature, Assessed] | None = None) -> None:
    """Print the whole judgement: channels, sections, racks, then the findings and the verdict."""
    console = _console()
    console.print(Text(rig.name, style="bold"))
    _heading(console, "Channels at full power")
    console.print(_channels(assessment))
    _heading(console, "Sections")
    console.print(_sections(assessment))
    if any(section.q_total is not None for section in assessment.sections.values()):
        console.print(Text(HONEST, style="dim"))
    if hot is not None:
        _heading(console, f"Sections with voice coils at {hot[0]}")
        console.print(_hot(assessment, hot[1]))
    _heading(console, "Racks")
    console.print(_racks(assessment))
    _heading(console, "Findings")
    for finding in assessment.findings:
        console.print(_finding(finding))
    console.print(_verdict(assessment))


def _heading(console: Console, words: str) -> None:
    console.print()
    console.print(Text(words, style="bold"))


def _channels(assessment: Assessed) -> Table:
    names = ("load Ω", "lowest Ω", "V", "A", "W", "rms lim. V", "dBu")
    table = _table("channel", "feed", "state", *names, right=names)
    for c in assessment.channels.values():
        branch = assessment.branches[c.id]
        state = "failed" if c.state == "failed" else "bridged" if c.mode == "bridged" else "ok"
        if branch.second_of_bridge:
            continue
        numbers = (
            c.load_nominal,
            c.load_minimum,
            c.voltage,
            c.current,
            c.power,
            c.limiter_rms,
            c.limiter_rms_dbu,
        )
        table.add_row(c.id, c.feed or "–", state, *map(_short, numbers))
    return table


def _sections(assessment: Assessed) -> Table:
    names = ("W", "room dB", "loss dB", "damping", "Q", "Q ideal")
    table = _table("section", "channel", "±", *names, right=names)
    for s in assessment.sections.values():
        sign = {1: "+", -1: "−", None: ""}[s.polarity]
        numbers = (s.power, s.headroom, s.loss, s.damping_factor, s.q_total, s.q_total_ideal)
        table.add_row(s.id, s.channel or "silent", sign, *map(_short, numbers))
    return table


def _hot(cold: Assessed, hot: Assessed) -> Table:
    names = ("W cold", "W hot", "damping cold", "hot", "Q cold", "Q hot")
    table = _table("section", *names, right=names)
    for name, c in cold.sections.items():
        h = hot.sections[name]
        if c.channel is not None:
            numbers = (c.power, h.power, c.damping_factor, h.damping_factor, c.q_total, h.q_total)
            table.add_row(name, *map(_short, numbers))
    return table


def _racks(assessment: Assessed) -> Table:
    table = _table("rack", "units used", "of", "amplifiers kg", right=("units used", "of", "amplifiers kg"))
    for r in assessment.racks.values():
        table.add_row(r.id, str(r.units_used), str(r.units), _short(r.weight))
    return table


def _finding(finding: Finding) -> Table:
    table = Table.grid(padding=(0, 2, 0, 0))
    table.add_column(width=4, no_wrap=True)
    table.add_column(overflow="fold")
    words = Text.assemble((finding.at, "bold"), " ", finding.message, "\n", (f"→ {finding.advice}", "dim"))
    table.add_row(Text(finding.severity, style=STYLE[finding.severity]), words)
    return table


def _verdict(assessment: Assessed) -> Text:
    counts = ", ".join(f"{assessment.count(severity)} {severity}" for severity in SEVERITIES)
    worst = assessment.worst()
    words = {
        "stop": "Mend every stop before anything is switched on.",
        "warn": "Usable; read the warnings.",
    }.get(worst or "", "Nothing stands against it.")
    return Text.assemble("\n", (counts, STYLE.get(worst or "", "bold green")), f". {words}")


def figures(assessment: Assessed, place: str) -> None:
    """Print the figures that a place has, each with its limit and margin. Raises NoWorkingError."""
    table = _table("figure", "value", "limit", "name for why", right=("value",))
    for shown in _figures_of(assessment, place):
        if shown.value is None:
            continue
        limit = shown.limit
        words = f"{limit.bound} {reading(limit.value, shown.figure.unit)}, {limit.why}" if limit else ""
        table.add_row(shown.figure.label, reading(shown.value, shown.figure.unit), words, shown.figure.name)
    _console().print(table)


def _figures_of(assessment: Assessed, place: str) -> Iterable[known.Shown]:
    if place in assessment.branches:
        return known.of_channel(assessment.branches[place])
    if place in assessment.sections:
        channel = assessment.sections[place].channel
        if channel is None:
            raise NoWorkingError(f"Nothing drives {place}, so it has no figures. Patch and feed it first.")
        branch = assessment.branches[channel]
        return known.of_section(branch, [section.id for section in branch.sections].index(place))
    if place in assessment.runs:
        run = assessment.runs[place][0]
        branch = assessment.branches[run.channel]
        return known.of_run(branch, branch.runs.index(run))
    raise NoWorkingError(no_place(assessment, place))


def workings(found: Iterable[Working]) -> None:
    """Print the steps of each working."""
    console = _console()
    for working in found:
        unit = working.steps[-1].unit
        console.print(
            Text.assemble((f"{working.place}: {working.label}", "bold"), f" = {reading(working.value, unit)}")
        )
        for number, step in enumerate(working.steps, 1):
            console.print(Text(f"{number}. {step.what}"))
            console.print(Text(f"     {step.formula}"))
            numbers = f"{step.numbers}  " if step.numbers else ""
            console.print(Text.assemble("     ", numbers, "= ", (step.result, "bold")))
            console.print(Text(f"     source: {step.source}", style="dim"))


def presets(found: "Sequence[Preset]") -> None:
    """Print the presets with their titles."""
    table = _table("preset", "whose", "what it is")
    for preset in found:
        table.add_row(preset.name, preset.origin, preset.error or preset.title)
    console = _console()
    console.print(table)
    console.print(Text("\nCopy one out: rackwright presets copy NAME FILE", style="dim"))


def equipment(library: Equipment) -> None:
    """Print every entry, kind after kind."""
    console = _console()
    rows: Any = (
        ("Amplifiers", library.amplifiers, lambda e: f"{e.channels} channels, {e.height} U"),
        ("Loudspeakers", library.loudspeakers, lambda e: ", ".join(s.id for s in e.sections)),
        ("Cables", library.cables, lambda e: f"{e.cores} × {e.size} ({e.size.equivalent()})"),
        ("Connectors", library.connectors, lambda e: f"{e.pole_pairs} pole pairs"),
    )
    for heading, entries, words in rows:
        console.print(Text(heading, style="bold"))
        table = _table("id", "name", "")
        for entry in entries:
            table.add_row(entry.id, entry.name, words(entry))
        console.print(table)
        console.print()
    console.print(Text("Show one: rackwright equipment show ID", style="dim"))
