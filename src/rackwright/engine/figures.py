"""The figures an assessment reports: their names, words, units and limits, in the order they are shown.

One table serves the JSON report, the printed table, the console's results and the working. Computes
nothing: a figure's value is an attribute of its result, a limit one that the findings judge by.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, NamedTuple, TypeAlias

from rackwright.engine import limits
from rackwright.engine.channel import Branch
from rackwright.engine.demand import DRAWN, BoardResult, CircuitResult, SupplyResult
from rackwright.engine.finding import Limit
from rackwright.model.equipment import AmplifierModel, Assumable
from rackwright.model.mains import Board, Circuit, Supply
from rackwright.units import NOTHING, floored, percent, reading, short, told_apart
from rackwright.units.formatting import signed_db

if TYPE_CHECKING:
    from rackwright.engine.assess import Assessed
    from rackwright.engine.levels import Playing

LimitOf: TypeAlias = Callable[[Branch, int], Limit | None]
"""The limit of a figure of a branch, the index being the section's or the run's."""


def _none(_branch: Branch, _index: int) -> None:
    return None


class Figure(NamedTuple):
    """A reported figure."""

    name: str
    """The attribute of its result, and what `why` is asked for."""
    key: str
    """Its key in the JSON report."""
    label: str
    unit: str
    limit: LimitOf = _none
    cap: bool = False
    """Whether it is the most that something may be set to: written, it is not rounded up."""
    same: bool = False
    """Whether it is the figure before it in another unit."""
    signed: bool = False
    """Whether it is dB above or below another level."""

    def text(self, value: float | None) -> str:
        """`value` as a person reads it."""
        if self.signed and value is not None:
            return signed_db(value)
        return reading(floored(value) if self.cap and value is not None else value, self.unit)


def _damping_factor(branch: Branch, index: int) -> Limit | None:
    return limits.damping_factor(branch) if branch.sections[index].kind == "low" else None


CHANNEL_FIGURES: tuple[Figure, ...] = (
    Figure(
        "load_nominal",
        "load_nominal_ohm",
        "Load, nominal",
        "Ω",
        lambda branch, _: limits.load_nominal(branch),
    ),
    Figure("load_terminal", "load_terminal_ohm", "Load at the terminals", "Ω"),
    Figure(
        "load_minimum",
        "load_minimum_ohm",
        "Lowest impedance",
        "Ω",
        lambda branch, _: limits.load_minimum(branch),
    ),
    Figure("load_minimum_at", "load_minimum_hz", "Frequency of lowest Z", "Hz"),
    Figure("voltage", "voltage_v", "Voltage, full power", "V"),
    Figure(
        "current", "current_a", "Current, full power", "A", lambda branch, _: limits.terminal_current(branch)
    ),
    Figure("power", "power_w", "Power, full", "W"),
    Figure("open_voltage", "open_voltage_v", "Open-circuit voltage", "V"),
    Figure(
        "limiter_rms",
        "limiter_rms_v",
        "Safe limiter, rms",
        "V",
        lambda branch, _: limits.limiter_set(branch, "rms"),
        True,
    ),
    Figure(
        "limiter_peak",
        "limiter_peak_v",
        "Safe limiter, peak",
        "V peak",
        lambda branch, _: limits.limiter_set(branch, "peak"),
        True,
    ),
    Figure("limiter_rms_dbu", "limiter_rms_dbu", "Safe input, rms", "dBu", cap=True),
    Figure("limiter_peak_dbu", "limiter_peak_dbu", "Safe input, peak", "dBu peak", cap=True),
    Figure("limiter_peak_sine_dbu", "limiter_peak_sine_dbu", "Safe input, sine", "dBu sine", cap=True),
)

SECTION_FIGURES: tuple[Figure, ...] = (
    Figure("voltage", "voltage_v", "Voltage, full power", "V"),
    Figure(
        "power",
        "power_w",
        "Power, full",
        "W",
        lambda branch, index: limits.power(branch, branch.models[index]),
    ),
    Figure("limited_power", "limited_power_w", "Power, limited", "W"),
    Figure("loss", "loss_db", "Cable loss", "dB", lambda branch, _: limits.loss(branch)),
    Figure("source_resistance", "source_resistance_ohm", "Source resistance", "Ω"),
    Figure("damping_factor", "damping_factor", "Damping factor", "", _damping_factor),
    Figure("headroom", "headroom_db", "Headroom", "dB", signed=True),
    Figure("gain", "gain_db", "Gain from the processor", "dB"),
    Figure("q_total", "q_total", "Total Q as wired", ""),
    Figure("q_total_ideal", "q_total_ideal", "Total Q, no cable", ""),
    Figure("ripple", "ripple_db", "Level ripple", "dB"),
    Figure("decay", "decay_s", "Decay to −20 dB", "s"),
    Figure("decay_ideal", "decay_ideal_s", "Decay, no cable", "s"),
    Figure("level", "level_db", "Level at 1 m, full", "dB"),
    Figure("band_top_loss", "band_top_loss_db", "Cable loss, band top", "dB"),
    Figure("damping_factor_worn", "damping_factor_worn", "Damping, worn contacts", ""),
    Figure("loss_worn", "loss_worn_db", "Loss, worn contacts", "dB"),
    Figure("advised_capacitor", "advised_capacitor_f", "Capacitor, advised", "F"),
)

LEVEL_FIGURES: tuple[Figure, ...] = (
    Figure("level", "level_db", "Level at 1 m, full", "dB"),
    Figure("under_loudest", "under_loudest_db", "Under the loudest", "dB"),
)
"""Of a kind of cabinet on a feed."""

RUN_FIGURES: tuple[Figure, ...] = (
    Figure("resistance", "resistance_ohm", "Loop resistance", "Ω"),
    Figure(
        "current",
        "current_a",
        "Current, full power",
        "A",
        lambda branch, index: limits.run_current(branch.all_runs[index]),
    ),
    Figure("voltage", "voltage_v", "Voltage, far end", "V"),
    Figure("loss", "loss_db", "Loss so far", "dB"),
)

_DEMAND = (
    Figure("programme_current", "programme_a", "Current, programme", "A"),
    Figure("heavy_current", "heavy_a", "Current, driven hard", "A"),
    Figure("idle_current", "idle_a", "Current, idle", "A"),
)

_APPARENT = (
    Figure("apparent", "apparent_va", "Apparent, programme", "VA"),
    Figure("apparent_heavy", "apparent_heavy_va", "Apparent, driven hard", "VA"),
)

INRUSH_FIGURES = (
    Figure("inrush", "inrush_a", "Inrush, rms, all at once", "A"),
    Figure("inrush_limit", "inrush_limit_a", "Instant trip from", "A"),
)

CIRCUIT_FIGURES: tuple[Figure, ...] = (
    *_DEMAND,
    Figure("breaker", "breaker_a", "Breaker", "A"),
    Figure("loading", "loading", "Loading, programme", "ratio"),
    Figure("loading_heavy", "loading_heavy", "Loading, driven hard", "ratio"),
    Figure("drop", "drop_percent", "Drop in supply cable", "%"),
    Figure("drop_heavy", "drop_heavy_percent", "Drop, driven hard", "%"),
    *INRUSH_FIGURES,
    Figure("heat", "heat_w", "Heat into the room", "W"),
    Figure("heat_btu", "heat_btu_h", "Heat into the room", "BTU/h", same=True),
)

MEASURED_FIGURES: tuple[Figure, ...] = (
    Figure("measured", "measured_a", "Current, measured", "A"),
    Figure("measured_duty", "measured_duty", "Duty that it means", ""),
)
"""Of a circuit that a clamp meter was put on."""

CABLE_FIGURES: tuple[Figure, ...] = (
    Figure("carries", "capacity_a", "Supply cable carries", "A"),
    Figure("fault_current", "fault_a", "Fault at its far end", "A"),
)
"""Of a circuit or board, where its supply cable can be checked."""
_LOADED = (
    Figure("fullest", "most_loaded_a", "Highest phase, programme", "A"),
    Figure("fullest_heavy", "most_loaded_heavy_a", "Highest phase, driven hard", "A"),
    Figure("rating", "rating_a", "Rating per phase", "A"),
    Figure("loading", "loading", "Loading, programme", "ratio"),
    Figure("loading_heavy", "loading_heavy", "Loading, driven hard", "ratio"),
)
_NEUTRAL = (
    Figure("neutral", "neutral_a", "Neutral, programme", "A"),
    Figure("neutral_heavy", "neutral_heavy_a", "Neutral, driven hard", "A"),
    Figure("neutral_rating", "neutral_rating_a", "Neutral, rating", "A"),
)

BOARD_FIGURES: tuple[Figure, ...] = (
    *_LOADED,
    *_NEUTRAL,
    Figure("drop", "drop_percent", "Drop from the origin", "%"),
    Figure("drop_heavy", "drop_heavy_percent", "Drop, driven hard", "%"),
    *_APPARENT,
    Figure("real", "real_kw", "Real power, programme", "kW"),
    *INRUSH_FIGURES,
)

LOAD_FIGURES: tuple[Figure, ...] = (
    Figure("programme_current", "programme_a", "Current, at every duty", "A"),
    Figure("apparent", "apparent_va", "Apparent power", "VA"),
)

AMPLIFIER_FIGURES: tuple[Figure, ...] = (
    *_DEMAND,
    Figure("programme_power", "programme_w", "Input, programme", "W"),
    Figure("heavy_power", "heavy_w", "Input, driven hard", "W"),
    Figure("inrush", "inrush_a", "Inrush, rms", "A"),
    Figure("heat", "heat_w", "Heat into the room", "W"),
)

RACK_FIGURES: tuple[Figure, ...] = (
    Figure("heat", "heat_w", "Heat into the room", "W"),
    Figure("heat_btu", "heat_btu_h", "Heat into the room", "BTU/h", same=True),
    Figure("weight", "weight_kg", "Weight of amplifiers", "kg"),
    Figure("units_used", "units_used", "Height used", "U"),
    Figure("units", "units", "Height", "U"),
    *_DEMAND,
    *_APPARENT,
)

SUPPLY_FIGURES: tuple[Figure, ...] = (
    *_DEMAND,
    *_APPARENT,
    Figure("generator", "generator_va", "Generator, rating", "VA"),
    Figure("generator_loading", "generator_loading", "Generator kVA, programme", "ratio"),
    Figure("generator_loading_heavy", "generator_loading_heavy", "Generator kVA, driven hard", "ratio"),
    Figure("generator_real_loading", "generator_real_loading", "Generator kW, programme", "ratio"),
    Figure(
        "generator_real_loading_heavy", "generator_real_loading_heavy", "Generator kW, driven hard", "ratio"
    ),
    Figure("dip", "dip_percent", "Generator, voltage dip", "%"),
    Figure("imbalance", "imbalance", "Imbalance of phases", "ratio"),
    Figure("neutral", "neutral_a", "Neutral, programme", "A"),
    Figure("heat", "heat_w", "Heat into the room", "W"),
    Figure("heat_btu", "heat_btu_h", "Heat into the room", "BTU/h", same=True),
)
INTAKE_FIGURES: tuple[Figure, ...] = (
    *_LOADED,
    *_NEUTRAL[1:],
    Figure("real", "real_kw", "Real power, programme", "kW"),
)
"""More of the supply, shown where its rating, a board or another load is stated."""

PHASE_FIGURES: tuple[Figure, ...] = (*_DEMAND, *_APPARENT)


_GAIN = ("gain", "limited_power", "limiter_rms_dbu", "limiter_peak_dbu", "limiter_peak_sine_dbu")
_POWER = (
    "programme_power", "heavy_power", "real", "heat", "heat_btu", "generator_real_loading",
    "generator_real_loading_heavy",
)  # fmt: skip
_CURRENT = (
    "programme_current", "heavy_current", "apparent", "apparent_heavy", "loading", "loading_heavy", "drop",
    "drop_heavy", "fullest", "fullest_heavy", "neutral", "neutral_heavy", "generator_loading",
    "generator_loading_heavy", "dip", "imbalance",
)  # fmt: skip
RESTS: Mapping[str, tuple[Assumable, ...]] = {
    **dict.fromkeys(_GAIN, ("gain",)),
    **dict.fromkeys(_POWER, DRAWN[:-1]),
    **dict.fromkeys(_CURRENT, DRAWN),
    "idle_current": ("idle_power", "power_factor"),
    "inrush": ("inrush",),
    "weight": ("weight",),
}
"""Figure → what it rests on of an amplifier that may be assumed: a limiter is typed in dBu, whatever it is stated in."""


class Shown(NamedTuple):
    """A figure of a result with its value and its limit."""

    figure: Figure
    value: float | None
    limit: Limit | None
    assumed: bool = False
    """Whether it rests on a figure of an amplifier that is assumed."""

    @property
    def cell(self) -> str:
        """The figure for a table, without its unit: to as many digits as show on which side of its limit it is."""
        if self.value is None or self.limit is None:
            if self.figure.signed:
                return self.figure.text(self.value).removesuffix(" dB")
            return percent(self.value) if self.figure.unit == "ratio" else short(self.value)
        unit = "ratio" if self.figure.unit == "ratio" else ""
        return told_apart(self.value, self.limit.value, unit)[0].removesuffix(" %")


def cells(shown: Iterable[Shown], *names: str) -> list[str]:
    """Of these figures those, for a table; dashes where there are none."""
    found = {each.figure.name: each.cell for each in shown}
    return [found.get(name, NOTHING) for name in names]


def of_channel(branch: Branch) -> tuple[Shown, ...]:
    """The figures of a channel."""
    return _shown(CHANNEL_FIGURES, branch.result, lambda figure: figure.limit(branch, 0), [branch.model])


def of_section(branch: Branch, index: int) -> tuple[Shown, ...]:
    """The figures of a branch's section of that index."""
    return _shown(
        SECTION_FIGURES, branch.sections[index], lambda figure: figure.limit(branch, index), [branch.model]
    )


def of_run(branch: Branch, index: int) -> tuple[Shown, ...]:
    """The figures of a branch's run of that index."""
    return _shown(RUN_FIGURES, branch.runs[index], lambda figure: figure.limit(branch, index))


def _shown(
    table: tuple[Figure, ...],
    result: object,
    limit_of: Callable[[Figure], Limit | None],
    models: Iterable[AmplifierModel] = (),
) -> tuple[Shown, ...]:
    """The figures of a result that rests on these models; what has no value has no limit."""
    assumed = {name for model in models for name in model.assumed}
    return tuple(
        Shown(
            figure,
            value,
            limit_of(figure) if value is not None else None,
            not assumed.isdisjoint(RESTS.get(figure.name, ())),
        )
        for figure in table
        for value in (getattr(result, figure.name),)
    )


def of_circuit(assessment: "Assessed", circuit: str) -> tuple[Shown, ...]:
    """The figures of a mains circuit."""
    result = assessment.circuits[circuit]
    supply, board = assessment.index.rig.supply, assessment.boards.get(result.board)
    drop = limits.drop(supply, board)
    held = {
        "loading": limits.loading_near(supply.rules),
        "loading_heavy": limits.loading_heavy(),
        "drop": drop,
        "drop_heavy": drop,
        "measured_duty": limits.measured_duty(assessment.index.rig.programme_duty),
    } | _inrush_held(result)
    table = (*CIRCUIT_FIGURES, *(MEASURED_FIGURES if result.measured is not None else ()))
    models, beside = _behind(assessment, [circuit]), _beside(assessment, assessment.index.circuits[circuit])
    return _plain(table, result, held, models, beside) + of_cable(assessment, circuit)


def of_cable(assessment: "Assessed", node: str) -> tuple[Shown, ...]:
    """The figures of the supply cable of a circuit or board; none where it can't be checked."""
    cable = assessment.cables.get(node)
    if cable is None:
        return ()
    held = {"carries": Limit("at least", cable.breaker, "its breaker")} if cable.breaker else {}
    if cable.breaker and cable.band:
        held["fault_current"] = limits.fault(cable.band[1], cable.breaker)
    return _plain(CABLE_FIGURES, cable, held)


def of_amplifier(assessment: "Assessed", amplifier: str) -> tuple[Shown, ...]:
    """The figures of an amplifier as a load on the mains."""
    return _plain(AMPLIFIER_FIGURES, assessment.amplifiers[amplifier], {}, _models(assessment, [amplifier]))


def of_rack(assessment: "Assessed", rack: str) -> tuple[Shown, ...]:
    """The figures of a rack."""
    result = assessment.racks[rack]
    held = {"units_used": Limit("at most", result.units, f"height of {rack}")}
    inside = [amplifier.id for amplifier in assessment.index.racks[rack].amplifiers]
    return _plain(RACK_FIGURES, result, held, _models(assessment, inside))


def of_phase(assessment: "Assessed", phase: str) -> tuple[Shown, ...]:
    """The figures of a phase; none where it carries nothing."""
    found = [result for result in assessment.phases.values() if result.id == phase]
    rating = assessment.supply.rating
    held = dict.fromkeys(("programme_current", "heavy_current"), limits.intake(rating)) if rating else {}
    on = [each.id for each in assessment.circuits.values() if phase in each.phases]
    return _plain(PHASE_FIGURES, found[0], held, _behind(assessment, on)) if found else ()


def of_supply(assessment: "Assessed") -> tuple[Shown, ...]:
    """The figures of the whole rig at the mains."""
    supply = assessment.supply
    near, full = limits.generator_near(), limits.generator_full()
    held = _held(supply, assessment.index.rig.supply) | {
        "generator_loading": near,
        "generator_loading_heavy": full,
        "generator_real_loading": near,
        "generator_real_loading_heavy": full,
    }
    models = _models(assessment, assessment.amplifiers)
    if not (supply.rating or assessment.boards or assessment.loads):
        return _plain(SUPPLY_FIGURES, supply, held, models)
    # of a single phase the current is that of the highest
    loaded = _LOADED if supply.programme_current is None else (*_DEMAND, *_LOADED[2:])
    table = (*loaded, *_NEUTRAL, *INTAKE_FIGURES[-1:], *SUPPLY_FIGURES, *INRUSH_FIGURES)
    return _plain(tuple(dict.fromkeys(table)), supply, held, models)


def of_board(assessment: "Assessed", board: str) -> tuple[Shown, ...]:
    """The figures of a distribution board."""
    result = assessment.boards[board]
    models, held = _behind(assessment, result.circuits), _held(result, assessment.index.rig.supply)
    beside = _beside(assessment, assessment.index.boards[board])
    return _plain(BOARD_FIGURES, result, held, models, beside) + of_cable(assessment, board)


def of_load(assessment: "Assessed", load: str) -> tuple[Shown, ...]:
    """The figures of what else hangs on a circuit."""
    return _plain(LOAD_FIGURES, assessment.loads[load], {})


def _inrush_held(result: CircuitResult | BoardResult | SupplyResult) -> dict[str, Limit]:
    limit = limits.inrush(result)
    return {"inrush": limit} if limit else {}


def _held(result: BoardResult | SupplyResult, supply: Supply) -> dict[str, Limit]:
    """The limits of a point where circuits meet."""
    held = {"loading": limits.loading_near(supply.rules), "loading_heavy": limits.loading_heavy()}
    held |= _inrush_held(result)
    if isinstance(result, BoardResult):
        held |= dict.fromkeys(("drop", "drop_heavy"), limits.drop(supply, result))
    if result.neutral_rating:
        neutral = limits.neutral_rating(result.neutral_rating)
        held |= {"neutral": neutral, "neutral_heavy": neutral}
    return held


def of_feed(assessment: "Assessed", feed: str) -> tuple[Shown, ...]:
    """The least limiter voltages that the sections on a feed bear, against those set."""
    return _least(assessment.playing(feed), ("limiter_rms", "limiter_peak"))


def of_gains(assessment: "Assessed", feed: str) -> dict[float, tuple[Shown, ...]]:
    """Gain in dB → the least limiters of the channels with that gain, in volts and in dBu before it.

    Empty where all channels of the feed have one gain: then one figure says it for all.
    """
    playing = assessment.playing(feed)
    gains = sorted({branch.gain for branch in playing})
    names = ("limiter_rms", "limiter_rms_dbu", "limiter_peak", "limiter_peak_dbu", "limiter_peak_sine_dbu")
    if len(gains) < 2:
        return {}
    return {gain: _least([b for b in playing if b.gain == gain], names) for gain in gains}


def of_levels(playing: "Playing") -> tuple[Shown, ...]:
    """What the sections of one kind of cabinet play on a feed: the loudest of them, and the quietest against others."""
    values = (playing.full[1], playing.under_loudest[1])
    return tuple([Shown(figure, value, None) for figure, value in zip(LEVEL_FIGURES, values, strict=True)])


def _least(branches: Sequence[Branch], names: Sequence[str]) -> tuple[Shown, ...]:
    shown = [figure for branch in branches for figure in of_channel(branch) if figure.value is not None]
    return tuple(
        min(found, key=lambda figure: figure.value or 0.0)
        for name in names
        if (found := [figure for figure in shown if figure.figure.name == name])
    )


def _plain(
    table: tuple[Figure, ...],
    result: object,
    held: dict[str, Limit],
    models: Iterable[AmplifierModel] = (),
    beside: Iterable[AmplifierModel] = (),
) -> tuple[Shown, ...]:
    """The figures of a result that no branch stands behind; its drop rests on the models `beside` it, too."""
    shown = _shown(table, result, lambda figure: held.get(figure.name), models)
    shared = {name for model in beside for name in model.assumed}.intersection(RESTS["drop"])
    return tuple(
        each._replace(assumed=True) if shared and each.figure.name in ("drop", "drop_heavy") else each
        for each in shown
    )


def _models(assessment: "Assessed", amplifiers: Iterable[str]) -> list[AmplifierModel]:
    index = assessment.index
    return [index.amplifier_models[index.amplifiers[name].model] for name in amplifiers]


def _beside(assessment: "Assessed", thing: Circuit | Board) -> list[AmplifierModel]:
    """The models of the amplifiers that share a supply cable with a circuit or board."""
    above = assessment.index.boards_above(thing)
    return _behind(assessment, assessment.boards[above[-1].id].circuits if above else ())


def _behind(assessment: "Assessed", circuits: Iterable[str]) -> list[AmplifierModel]:
    """The models of the amplifiers on these circuits."""
    return _models(assessment, (name for each in circuits for name in assessment.circuits[each].amplifiers))
