"""The results pane: what the engine says of the selected place, figure by figure, the gravest finding first."""

from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise

from rackwright.console.related import kind_of
from rackwright.console.rows.advice import by_keys
from rackwright.console.rows.columns import Wishes
from rackwright.console.rows.row import Part, Row, caution, heading, words
from rackwright.console.terminal.glyphs import Glyphs
from rackwright.engine import cautions, figures, outage
from rackwright.engine.assess import Assessed
from rackwright.engine.figures import Shown
from rackwright.engine.finding import Finding, Limit, grouped, sentence_of
from rackwright.engine.levels import levels_by_feed
from rackwright.model.index import pole_or_none
from rackwright.model.places import LinePair, PolePair
from rackwright.units import figure, reading, told_apart
from rackwright.units.text_table import wrap
from rackwright.units.wording import MOST

BAR = 6
"""Cells of a bar besides the one after it."""
LABEL, NUMBER = 24, 8
NEED = LABEL + 1 + NUMBER + 1 + BAR + 1
"""Cells in which a figure stands on one line."""
WIDE = NEED + 1
"""With the limit beside it: the longest label has two blanks after it then."""
WISHES = Wishes(NEED, NEED, 49)
"""With the most, nearly every limit stands on one line below its figure."""
ASSUMED = "assumed"
"""In the place of a bar, beside a figure that rests on one that is assumed."""
SHOWN = 2
"""Findings told before the figures."""
_WIRED = ("socket", "pole", "line", "line pair")
"""Kinds that have no figure but of the channels that play through them."""
NOTE = 22
"""Cells that a limit is written in beside its figure; with fewer it stands below."""


def rows(
    assessment: Assessed, place: str, width: int, glyphs: Glyphs, kept: Assessed | None = None
) -> list[Row]:
    """The rows of the results pane for `place`; with `kept`, changed figures as `before → now`."""
    found = [heading(line) for line in wrap(title(assessment, place), width)]
    if kept is not None and place and not kind_of(kept, place):
        found += [words(line, "dim") for line in wrap("It is not in the rig compared with.", width)]
    titled = len(found)
    findings = assessment.at(place) if place else assessment.findings
    found += [words(line, "failed") for said in _dead(assessment, place) for line in wrap(said, width)]
    told = grouped(findings)
    for group in told[:SHOWN]:
        found += _finding(group, width)
    if more := sum(map(len, told[SHOWN:])):
        found.append(words(f"and {more} more: press v", "dim"))
    for name, every in groups(assessment, place):
        shown = [item for item in every if item.value is not None and not item.figure.same]
        if name and shown:
            found += [words(""), *map(heading, wrap("At the section" if name == place else name, width))]
        before = _before(kept, place, name) if kept is not None else {}
        found += [
            row
            for item in shown
            for target in (_target(assessment, place, name, item),)
            for row in _figure(
                item,
                before,
                width,
                glyphs,
                target,
                gravity(assessment, target, item),
                _also(every, item, "" if target == place or place not in assessment.index.feeds else target),
            )
        ]
    if len(found) == titled and kind_of(assessment, place) in _WIRED:
        found.append(words("No channel plays through it.", "dim"))
    notes = [] if place else _notes(assessment, width)
    return found + _touch(assessment, place, width) + notes + _caution(assessment, place, width)


def _dead(assessment: Assessed, place: str) -> list[str]:
    """Why nothing comes out of a place, where that stands in no finding of its own."""
    if place in assessment.branches:
        dead = assessment.branches[place].result.outage
    elif kind_of(assessment, place) in ("section", "cabinet"):
        own = [s.id for s in assessment.sections.values() if place in (s.id, s.cabinet)]
        why = {name: told for name in own if (told := assessment.silence(name))}
        if len(set(why.values())) == 1 and len(why) == len(own):
            return [f"Silent: {next(iter(why.values()))}."]
        return [f"{name} silent: {told}." for name, told in why.items()]
    else:
        dead = outage.at(assessment.index, place)
    return [f"Dead: {dead}."] if dead and dead.at != place else []


def _notes(assessment: Assessed, width: int) -> list[Row]:
    """What was written down of the rig and its venue."""
    lines = [line for line in assessment.index.rig.notes.splitlines() if line.strip()]
    told = [words(part) for line in lines for part in wrap(line, width)]
    return [words(""), heading("Notes"), *told] if told else []


def _touch(assessment: Assessed, place: str, width: int) -> list[Row]:
    """The voltage that a finger could meet at a channel's terminals or a connector, its class, whether it is reached."""
    contact = assessment.touch.get(place)
    if contact is None:
        return []
    reach = "exposed" if contact.exposed else "shrouded"
    told = f"Touch: {reading(contact.voltage, 'V')} at {reach} {contact.contact}, class {contact.touch_class}"
    return [words(""), *(words(line, "warn" if contact.exposed else "") for line in wrap(told, width))]


def _caution(assessment: Assessed, place: str, width: int) -> list[Row]:
    """The caution, wherever mains or touch voltage are shown."""
    if (
        kind_of(assessment, place) in ("rig", "circuit", "phase", "amplifier", "rack")
        or place in assessment.touch
    ):
        return caution(cautions.PLANNING, width)
    return []


def _target(assessment: Assessed, place: str, group: str, shown: Shown) -> str:
    """What `why` is asked for a figure of a group: the group's own place, or the selected one; of a feed, the channel with that figure."""
    if place in assessment.index.feeds:
        playing = assessment.playing(place)
        return next((each.id for each in playing if shown in figures.of_channel(each)), place)
    return place if not group or group.startswith("Pole pair") else group


def _finding(group: Sequence[Finding], width: int) -> Iterator[Row]:
    """Findings that say the same, once."""
    finding = group[0]
    for number, text in enumerate(wrap(sentence_of(group, MOST), width - 5)):
        yield Row(
            ((finding.severity + " " if number == 0 else "     ", finding.severity), (text, "")),
            finding.at,
            selectable=False,
        )
    for text in wrap(by_keys(finding.advice), width - 5):
        yield Row((("     ", ""), (text, "")), finding.at, selectable=False)


def title(assessment: Assessed, place: str) -> str:
    """What a place is called in full."""
    index, kind = assessment.index, kind_of(assessment, place)
    match kind:
        case "rig":
            return index.rig.title
        case "channel":
            branch = assessment.branches[place]
            return f"Channel {place}, {branch.model.id}, {branch.mode}"
        case "section":
            section = assessment.sections[place]
            model = section.model
            fitted = f", {model.capacitor} in series" if model and model.capacitor else ""
            return f"Section {place}, kind {section.kind}{fitted}"
        case "amplifier":
            return f"Amplifier {place}, {index.amplifiers[place].model}"
        case "cabinet":
            return f"Cabinet {place}, {index.cabinets[place].model}"
        case "line":
            line = index.lines[place]
            cable = index.cable_models[line.cable]
            return f"Line {place}, {cable.cores} × {cable.size} ({cable.size.equivalent()})"
        case "pole" | "line pair" if isinstance(pair := index.place(place), PolePair | LinePair):
            return f"Pole pair {pair.pair + 1} of {pair.thing}"
        case "":
            return "Nothing is selected"
        case _:
            return f"{kind.capitalize()} {place}"


def groups(assessment: Assessed, place: str) -> list[tuple[str, tuple[Shown, ...]]]:
    """The figures shown for a place, group by group, each with its heading (empty for the place itself)."""
    index = assessment.index
    match kind_of(assessment, place):
        case "channel":
            return [
                ("", figures.of_channel(assessment.branches[place])),
                *_of_sections(assessment, _driven(assessment, place), 4),
            ]
        case "section":
            return _of_sections(assessment, [place], 99)
        case "amplifier":
            names = [b.id for b in assessment.branches.values() if b.amplifier.id == place]
            channels = [(name, figures.of_channel(assessment.branches[name])[:7]) for name in names]
            return [("", figures.of_amplifier(assessment, place)), *channels]
        case "cabinet":
            names = [s.id for s in assessment.sections.values() if s.cabinet == place]
            return _of_sections(assessment, names, 99)
        case "line":
            return _of_line(assessment, place)
        case "pole":
            pair = index.pole_pairs[place]
            pole = pole_or_none(index.sockets[pair.socket].pole(pair.pair))
            return [(pole.name, figures.of_channel(assessment.branches[pole.name]))] if pole else []
        case "rack":
            return [("", figures.of_rack(assessment, place))]
        case "circuit":
            return [("", figures.of_circuit(assessment, place))]
        case "board":
            return [("", figures.of_board(assessment, place))]
        case "load":
            return [("", figures.of_load(assessment, place))]
        case "feed":
            gains = figures.of_gains(assessment, place)
            apart = [(f"Gain {figure(gain)} dB", shown) for gain, shown in gains.items()]
            return [("", figures.of_feed(assessment, place)), *apart, *_levels(assessment, place)]
        case "socket":
            driven = index.channels_at(place)
            return [(name, figures.of_channel(assessment.branches[name])[:7]) for name in driven]
        case "phase":
            return [("", figures.of_phase(assessment, place))]
        case "rig":
            return [("", figures.of_supply(assessment))]
        case _:
            return []


def _levels(assessment: Assessed, feed: str) -> list[tuple[str, tuple[Shown, ...]]]:
    """Each kind of section on a feed by its level, where unlike cabinets play it."""
    playing = levels_by_feed(assessment).get(feed, ())
    unlike = len({each.model for each in playing}) > 1
    return [
        (f"{each.number} × {each.model} {each.section}", figures.of_levels(each))
        for each in (playing if unlike else ())
    ]


def _driven(assessment: Assessed, channel: str) -> list[str]:
    return [section.id for section in assessment.branches[channel].sections if section.channel]


def _of_sections(
    assessment: Assessed, names: Iterable[str], most: int
) -> list[tuple[str, tuple[Shown, ...]]]:
    found = []
    for name in names:
        channel = assessment.sections[name].channel
        if channel is not None:
            branch = assessment.branches[channel]
            index = [section.id for section in branch.sections].index(name)
            found.append((name, figures.of_section(branch, index)[: 99 if most > 4 else 7]))
    return found[:most]


def _of_line(assessment: Assessed, line: str) -> list[tuple[str, tuple[Shown, ...]]]:
    found = []
    for run in assessment.runs.get(line, ()):
        branch = assessment.branches[run.channel]
        found.append((f"Pole pair {run.far}, {run.channel}", figures.of_run(branch, branch.runs.index(run))))
    return found


def _before(kept: Assessed, place: str, group: str) -> dict[str, float | None]:
    if not kind_of(kept, place):
        return {}
    for name, shown in groups(kept, place):
        if name == group:
            return {item.figure.name: item.value for item in shown}
    return {}


def gravity(assessment: Assessed, place: str, shown: Shown) -> str:
    """The severity of the finding that a figure past its limit makes; a warning's where it makes none of its own."""
    findings = assessment.at(place) if place else assessment.findings
    return next((f.severity for f in findings if f.figure == shown.value), "warn")


def _also(every: Sequence[Shown], item: Shown, decides: str) -> list[str]:
    """What else is told beside a figure: the same in another unit, and for a feed the channel that decides it."""
    also = [
        f"= {other.figure.text(other.value)}"
        for one, other in pairwise(every)
        if one is item and other.figure.same
    ]
    return [*also, f"lowest at {decides}"] if decides else also


def _figure(
    item: Shown,
    before: dict[str, float | None],
    width: int,
    glyphs: Glyphs,
    target: str,
    severity: str = "warn",
    also: Sequence[str] = (),
) -> Iterator[Row]:
    value = item.value or 0.0
    then = before.get(item.figure.name)
    number, bound = item.figure.text(value), ""
    if item.limit is not None:
        told, bound = told_apart(value, item.limit.value, item.figure.unit)
        number = number if item.figure.cap else told
    if then is not None and (was := item.figure.text(then)) != number:
        unit = number.partition(" ")[2]
        number = f"{was.removesuffix(f' {unit}')} → {number}"  # said once where both have it
    mark, notes = ASSUMED if item.assumed else "", [(each, "dim") for each in also]
    full: list[Part] = [(f"{mark:{BAR + 1}}", "warn" if mark else "")]
    if item.limit is not None:
        past, cap = item.limit.broken_by(value), item.figure.cap
        if not cap:
            full = bar(item.limit, value, glyphs, severity)
        sign = "set to" if cap else "≥" if item.limit.bound == "at least" else "≤"
        why = (
            item.limit.why.removeprefix("limiter as set") + ", too high" * past
            if cap
            else f", {item.limit.why}"
        )
        told = f"{sign} {bound}{why}"
        notes.insert(0, (told + item.assumed * "; from assumed figures", severity if past else "dim"))
    beside = width >= WIDE + 2 + NOTE
    left = (WIDE if beside else width) - BAR - 2
    label = item.figure.label
    if len(label) + 2 + len(number) > left:
        yield words(label)
        label = ""
    stands = Row(
        ((label, ""), (f"{number:>{left - len(label)}} ", "head"), *full), target, figure=item.figure.name
    )
    if not beside:
        yield stands
        yield from (words(f"  {line}", look) for note, look in notes for line in wrap(note, width - 2))
        return
    first, *rest = [(line, look) for note, look in notes for line in wrap(note, width - WIDE - 2)] or [
        ("", "")
    ]
    yield stands._replace(parts=(*stands.parts, (f"  {first[0]}".rstrip(), first[1])))
    yield from (words(" " * (WIDE + 2) + line, look) for line, look in rest)


def bar(limit: Limit, value: float, glyphs: Glyphs, severity: str) -> list[Part]:
    """A bar that fills towards the limit, full only at it; past it a word says so, in the colour of how grave that is."""
    margin = limit.margin(value)
    if margin < -1e-9:
        return [(f"{'over' if limit.bound == 'at most' else 'under':{BAR + 1}}", severity)]
    share = 1 - margin + 1e-9
    filled = BAR if share >= 1 else min(round(BAR * share), BAR - 1)
    return [(glyphs.full * filled, "filled"), (glyphs.empty * (BAR - filled) + " ", "dim")]
