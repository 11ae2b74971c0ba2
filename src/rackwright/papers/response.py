"""The response sheet, for who tunes the system: what cables and contacts do to the sound, levels of unlike cabinets, the kick.

Made by its name only: the crew wires from the others.
"""

from collections.abc import Iterator, Sequence

from rackwright.engine.assess import Assessed
from rackwright.engine.kick import Picture, pictures
from rackwright.engine.levels import level_rows
from rackwright.engine.loudspeaker import Array
from rackwright.engine.results import SectionResult
from rackwright.papers.document import Drawing, Sheet, Table, Words
from rackwright.papers.drawing import WIDTH, Rule, Strip, Text, outline
from rackwright.papers.phrases import PLANNING
from rackwright.papers.typeface import BOLD, REGULAR
from rackwright.units import NOTHING, figure, reading, short

HOW = Words(
    "Worn: with contacts of ten times the resistance of good ones (common practice, no source): what of damping and level rests "
    "on clean plugs. Band top: what is lost in the cable at the upper end of the band, its inductance included. Decay: until the "
    "sound is 20 dB down after a burst; coil inductance and the processor's filters are left out."
)
LEVELS = Words(
    "Full power: level of one section at 1 m, from its sensitivity and the voltage that it gets. Under the loudest: at one level of "
    "the processor, against the loudest section of its kind on the feed. Nothing is said of a listener's seat."
)
KICK = Words(
    "A kick: four cycles of the lower end of the band under a Hann window. Tight bass is commonly explained by damping (common "
    "practice, no source): this is what it comes to here."
)
FIGURES = (
    "DF",
    "worn",
    "loss dB",
    "worn dB",
    "band top dB",
    "ripple dB",
    "decay ms",
    "no cable ms",
    "level dB",
)
HIGH = 42.0
"""mm of a plot."""
LETTERS = 10.0
LINE = 4.6
PENS = ((0.5, 0), (0.2, 6), (0.25, 0), (0.5, 3), (0.2, 2))
"""Of each curve: the weight in mm, and after how many pieces there is a gap; none where 0."""


def response_sheet(assessment: Assessed, before: Assessed | None = None) -> Sheet:
    """Figures of every section that sounds, levels by feed, and a kick for each kind of woofer; `before` to compare with."""
    kicks = [
        block
        for picture in pictures(assessment, before)
        for block in (_drawing(picture), Words(picture.remark))
    ]
    blocks = (HOW, _figures(assessment), *_levels(assessment), *((KICK, *kicks) if kicks else ()), PLANNING)
    return Sheet(name="response", title="Response", blocks=blocks)


def _figures(assessment: Assessed) -> Table:
    return Table(
        name="sections",
        heading="Sections",
        heads=("section", "channel", *FIGURES),
        right=frozenset(FIGURES),
        rows=tuple(_row(result) for result in assessment.sections.values() if result.channel is not None),
    )


def _row(result: SectionResult) -> tuple[str, ...]:
    seconds = (result.decay, result.decay_ideal)
    return (
        result.id,
        result.channel or NOTHING,
        *map(short, (result.damping_factor, result.damping_factor_worn, result.loss, result.loss_worn)),
        *map(short, (result.band_top_loss, result.ripple)),
        *(short(None if each is None else 1000 * each) for each in seconds),
        short(result.level),
    )


def _levels(assessment: Assessed) -> tuple[Words | Table, ...]:
    rows = level_rows(assessment)
    right = ("sensitivity dB", "full power dB", "under the loudest dB")
    table = Table(
        name="levels",
        heading="Levels, by feed",
        heads=("feed", "cabinets", "section", *right),
        right=frozenset(right),
        rows=rows,
    )
    return (LEVELS, table) if rows else ()


# --- the kick -----------------------------------------------------------------------------------------


def _drawing(picture: Picture) -> Drawing:
    title = f"{picture.section}, a kick of {reading(picture.frequency, 'Hz')}"
    strips = (
        _plot(picture, f"{title}: sound pressure over ms", [wired.kick.pressure for wired in picture.wired]),
        _plot(picture, "Cone motion over ms", [wired.kick.motion for wired in picture.wired]),
        _legend(picture),
    )
    table = Table(
        name=f"kick-{picture.section}",
        heading=title,
        heads=("wired", "damping factor", "−20 dB in ms"),
        right=frozenset(("damping factor", "−20 dB in ms")),
        rows=tuple(
            (wired.words, figure(wired.damping_factor), figure(1000 * wired.decay)) for wired in picture.wired
        ),
    )
    return Drawing(strips, (table,))


def _plot(picture: Picture, title: str, curves: Sequence[Array]) -> Strip:
    """Curves in a frame, a number on each, a tick for each cycle of the kick."""
    top, most = LINE + 1.5, max(float(abs(curve).max()) for curve in curves)
    time = picture.wired[0].kick.time
    across = WIDTH / float(time[-1])

    def up(value: float) -> float:
        return top + HIGH / 2 * (1 - value / most / 1.05)

    rules: list[Rule] = [*outline(0, top, WIDTH, top + HIGH, 0.2), Rule(0, up(0), WIDTH, up(0), 0.1)]
    texts = [Text(0, LINE - 1.0, title, BOLD, LETTERS)]
    for number, curve in enumerate(curves):
        x, y = (time[::3] * across).tolist(), [up(value) for value in curve[::3].tolist()]
        rules += _line(x, y, *PENS[number % len(PENS)])
        at = (2 * number + 3) * len(x) // (2 * len(curves) + 6)
        texts.append(Text(x[at], y[at] - 0.6, f"{number + 1}", BOLD, LETTERS))
    for cycle in range(1, int(float(time[-1]) * picture.frequency) + 1):
        x_at = cycle / picture.frequency * across
        rules.append(Rule(x_at, top + HIGH - 1.2, x_at, top + HIGH, 0.2))
        words = figure(1000 * cycle / picture.frequency)
        if x_at < WIDTH - 4:
            texts.append(Text(x_at - 3, top + HIGH + LINE - 0.8, words, REGULAR, LETTERS))
    return Strip(top + HIGH + LINE + 1.5, tuple(texts), tuple(rules), with_next=True)


def _line(x: Sequence[float], y: Sequence[float], weight: float, gap: int) -> Iterator[Rule]:
    for piece in range(len(x) - 1):
        if not gap or piece % (gap + 2) < gap:
            yield Rule(x[piece], y[piece], x[piece + 1], y[piece + 1], weight)


def _legend(picture: Picture) -> Strip:
    """A line for each curve, then what can be said of it."""
    texts: list[Text] = []
    rules: list[Rule] = []
    for number, wired in enumerate(picture.wired):
        y = LINE * (number + 1) - 1.0
        x = [float(piece) for piece in range(17)]
        rules += _line(x, [y - 1.2] * len(x), *PENS[number % len(PENS)])
        words = f"{number + 1}  {wired.words}: damping factor {figure(wired.damping_factor)}, −20 dB in {figure(1000 * wired.decay)} ms"
        texts.append(Text(19, y, words, REGULAR, LETTERS))
    return Strip(LINE * len(picture.wired) + 1.0, tuple(texts), tuple(rules))
