"""Every limit once: its value, whose it is, and by its name the figure that it binds.

Findings judge by these, bars and workings show them, and a recovery plan is graver than another by them. Computes no
figure, and says nothing about what to do.
"""

from typing import Literal, TypeAlias

from rackwright.engine import touch
from rackwright.engine.channel import Branch
from rackwright.engine.demand import BoardResult, CircuitResult, SupplyResult
from rackwright.engine.finding import Limit
from rackwright.engine.loudspeaker import LOWEST_MODULUS
from rackwright.engine.mains import Rules
from rackwright.engine.mains.cable_capacity import Capacity
from rackwright.engine.network import Run
from rackwright.model.equipment import AmplifierModel, Section
from rackwright.model.mains import Supply
from rackwright.model.racks import Feed
from rackwright.model.rig import Targets

COMMON = "common practice, no source"
"""Of what nobody has published: a limit, or a value in a working."""

Kind: TypeAlias = Literal["rms", "peak"]

# --- a channel and its wiring ---


def load_nominal(branch: Branch) -> Limit:
    """Ω, on the sections in parallel without cable: by the data sheet of the amplifier.

    >>> load_nominal(branch).value
    2.0
    """
    return Limit("at least", branch.result.lowest_load, "lowest rated load")


def load_minimum(branch: Branch) -> Limit:
    """Ω, on the lowest modulus in the band: what IEC 60268-5 lets a load of that rating fall to [1]_.

    >>> load_minimum(branch).value
    1.6

    .. [1] IEC 60268-5: not under 80 % of the rated impedance.
    """
    return Limit(
        "at least",
        LOWEST_MODULUS * branch.result.lowest_load,
        f"{LOWEST_MODULUS:g} × the lowest rated load: IEC 60268-5",
    )


def terminal_current(branch: Branch) -> Limit:
    """A, on the current at full power: by the data sheet of the amplifier, where that says none assumed.

    >>> terminal_current(branch).value
    40.0
    """
    assumed = ", assumed" if "max_current" in branch.model.assumed else ""
    return Limit("at most", branch.model.max_current.value, f"terminals of {branch.amplifier.id}{assumed}")


def run_currents(run: Run) -> tuple[Limit, ...]:
    """A, on the current at full power, of each part that it flows through: by the data sheet of each.

    >>> [limit.value for limit in run_currents(branch.roots[0])]
    [25.0, 30.0]
    """
    near, far = run.near_connector, run.far_connector
    return (
        Limit("at most", run.cable.max_current.value * run.line.cores_per_pole, f"its cable, {run.cable.id}"),
        *[
            Limit("at most", c.max_current.value, f"its {c.id} connector")
            for c in ((near,) if near == far else (near, far))
        ],
    )


def run_current(run: Run) -> Limit:
    """A, the least of those of its parts: by the data sheet of each.

    >>> run_current(branch.roots[0]).value
    25.0
    """
    return min(run_currents(run), key=lambda limit: (limit.value, limit.why))


def loss(branch: Branch) -> Limit:
    """dB, between the terminals and a section; where the rig states no target, common practice, no source.

    >>> loss(branch).value
    0.5
    """
    accepted = branch.targets.cable_loss
    return Limit("at most", accepted.value, _target(accepted == Targets().cable_loss))


def damping_factor(branch: Branch) -> Limit:
    """On sections of kind low; where the rig states no target, common practice, no source.

    >>> damping_factor(branch).value
    20.0
    """
    accepted = branch.targets.damping_factor
    return Limit("at least", accepted, _target(accepted == Targets().damping_factor))


def _target(usual: bool) -> str:
    return f"usual target: {COMMON}" if usual else "target from the rig file"


def band_start(section: Section) -> Limit:
    """Hz, on the lower edge of the feed's band: by the data sheet of the section.

    >>> band_start(sub).value
    28.0
    """
    return Limit("at least", section.lowest.value, "lowest frequency")


def capacitor_corner(feed: Feed) -> Limit:
    """Hz, under which a capacitor takes more than 3 dB from its section: a corner is at −3 dB by definition.

    >>> capacitor_corner(index.feeds["top-high"]).value
    1200.0
    """
    return Limit("at most", feed.band[0].value, f"lower edge of {feed.id}")


def headroom_short() -> Limit:
    """dB, on power over the continuous rating: half of it. Common practice, no source.

    >>> headroom_short().value
    -3.0
    """
    return Limit("at least", -3.0, COMMON)


def gain_apart() -> Limit:
    """dB, on the gain by which sections of one kind on one feed differ. Common practice, no source.

    >>> gain_apart().value
    1.0
    """
    return Limit("at most", 1.0, COMMON)


def power(branch: Branch, section: Section) -> Limit | None:
    """W, on a section's power where its feed states no rms limiter: 3 dB over its rating, common practice, no source.

    >>> power(branch, sub) is None  # its feed states a limiter
    True
    """
    if branch.feed and branch.feed.limiter_rms:
        return None
    return Limit("at most", section.continuous.value * 10**0.3, f"without a limiter: {COMMON}")


def limiter_set(branch: Branch, kind: Kind) -> Limit | None:
    """V, on what the sections of a channel allow: what the limiter of its feed comes to there, by definition of its gain.

    >>> limiter_set(branch, "rms").value
    74.0
    """
    chosen = branch.set_rms if kind == "rms" else branch.set_peak
    assumed = ", gain assumed" if "gain" in branch.model.assumed else ""
    return Limit("at least", chosen, f"limiter as set{assumed}") if chosen is not None else None


# --- the mains ---

EVEN = 0.2
"""Imbalance up to which phases count as even, whatever they carry: common practice, no source."""


def loading_stop(rules: Rules) -> Limit:
    """On programme current over the breaker: a circuit past it is overloaded. All of it, common practice, no source; US rules [1]_.

    >>> loading_stop("iec").value, loading_stop("us").value
    (1.0, 0.8)

    .. [1] NEC 210.20(A), from memory: 80 % for a load of three hours or more, which a show counts as.
    """
    if rules == "us":  # for a load of three hours or more
        return Limit("at most", 0.8, "NEC 210.20(A), from memory")
    return Limit("at most", 1.0, COMMON)


def loading_near(rules: Rules) -> Limit:
    """On programme current over the breaker: past it a circuit is near its limit. Common practice, no source; US rules [1]_.

    >>> loading_near("iec").value
    0.8

    .. [1] NEC 210.20(A), from memory.
    """
    return Limit("at most", 0.8, loading_stop(rules).why)


LOADINGS = (loading_near("iec").value, loading_stop("iec").value)
"""What a loading is held against at any duty, by any rules."""


def intake(rating: float) -> Limit:
    """A, on the current of a phase: what the intake is rated for, by the data sheet or the venue.

    >>> intake(32.0).value
    32.0
    """
    return Limit("at most", rating, "rating of the intake")


def loading_heavy() -> Limit:
    """On the current driven hard over the breaker: its rating, by definition.

    >>> loading_heavy().value
    1.0
    """
    return Limit("at most", 1.0, "the breaker")


def cable(capacity: Capacity, table: Literal["lowest", "highest"]) -> Limit:
    """A, on the breaker before a supply cable: what that carries as it is laid, by the lowest or highest table that applies [1]_.

    >>> from rackwright.engine.mains.cable_capacity import Laying, capacity
    >>> from rackwright.units import ConductorSize
    >>> carried = capacity(ConductorSize.parse("2.5 mm2"), Laying("cord", "drum", layers=3), 2, 30.0, "iec")
    >>> cable(carried, "lowest").value
    11.25

    .. [1] The table that stands beside each figure.
    """
    rating = capacity.ratings[0 if table == "lowest" else -1]
    return Limit("at most", getattr(capacity, table), rating.source)


def fault(edge: float, breaker: float) -> Limit:
    """A, on what a fault at the far end draws: an edge of the band in which the breaker (A) before it trips at once [1]_.

    >>> fault(80.0, 16.0).value
    80.0

    .. [1] IEC 60898-1, over 125 A IEC 60947-2, both from memory.
    """
    return Limit("at least", edge, f"IEC {'60947-2' if breaker > 125 else '60898-1'}, from memory")


def drop(supply: Supply, board: BoardResult | None = None) -> Limit:
    """%, of the supply lost in supply cables; under US rules of a branch, or in all where one up to its board is stated.

    A generator is a private supply, which may lose more than the public mains [1]_. US rules [2]_.

    >>> drop(index.rig.supply).value
    5.0

    .. [1] IEC 60364-5-52 Annex G, from memory.
    .. [2] NEC 210.19, informational note, from memory.
    """
    if supply.rules == "us":
        return Limit(
            "at most",
            5.0 if board and board.drop is not None else 3.0,
            "NEC 210.19, informational note, from memory",
        )
    if supply.generator:
        return Limit("at most", 8.0, "a private supply, IEC 60364-5-52 Annex G, from memory")
    return Limit("at most", 5.0, "IEC 60364-5-52 Annex G, from memory")


def inrush(point: CircuitResult | BoardResult | SupplyResult) -> Limit | None:
    """A rms, on all that is switched on at once behind a device; none where the device is not known to have a band [1]_.

    >>> inrush(hall.circuits["P1"]).value
    80.0

    .. [1] IEC 60898-1, from memory.
    """
    if point.inrush_limit is None:
        return None
    return Limit("at most", point.inrush_limit, "instant trip: IEC 60898-1, from memory")


def imbalance(mean: float, largest_breaker: float) -> Limit:
    """On the imbalance of three phases of `mean` current (A).

    Or what deviates by a fortieth of the largest breaker (A): less hurts nothing. Common practice, no source.

    >>> imbalance(10.0, 16.0).value, imbalance(1.0, 16.0).value
    (0.2, 0.4)
    """
    accepted = max(EVEN, 0.025 * largest_breaker / mean) if mean > 0 else EVEN
    return Limit("at most", accepted, COMMON)


def neutral_rating(rating: float) -> Limit:
    """A, on the neutral: what it may carry (A), by the data sheet or the venue.

    >>> neutral_rating(32.0).value
    32.0
    """
    return Limit("at most", rating, "rating of the neutral")


def rcd(rating: float, rules: Rules) -> Limit:
    """A, on the standing leakage behind an RCD of a rated current (A), which trips from half of it on [1]_; US rules [2]_.

    >>> rcd(0.03, "iec").value, rcd(0.005, "us").value
    (0.009, 0.004)

    .. [1] IEC 60364-5-53, from memory: 30 % of its rating.
    .. [2] UL 943, from memory: it trips between 4 and 6 mA.
    """
    if rules == "us" and rating <= CLASS_A:
        return Limit("at most", 0.004, "UL 943, which trips between 4 and 6 mA, from memory")
    return Limit("at most", 0.3 * rating, "30 % of its rating, IEC 60364-5-53, from memory")


def measured_duty(programme: float) -> Limit:
    """On the duty that a measured current asks for: that of programme, `programme`, and music just below clipping at least [1]_.

    >>> measured_duty(0.2).value
    0.2

    .. [1] IEC 62368-1 Annex E, from memory: one eighth of full power.
    """
    return Limit("at most", max(programme, Targets().programme_duty), "duty at programme")


CLASS_A = 0.006
"""A, up to which a US device counts as a ground-fault circuit interrupter for persons: UL 943, from memory."""


def neutral(fullest: float) -> Limit:
    """A, on the neutral: the current of the most loaded phase (A). Common practice, no source.

    >>> neutral(12.5).value
    12.5
    """
    return Limit("at most", fullest, f"the most loaded phase: {COMMON}")


def mains_voltage(model: AmplifierModel) -> tuple[Limit, ...]:
    """V, on the mains that an amplifier gets: both ends, by the data sheet; none where that is not stated.

    >>> [limit.value for limit in mains_voltage(amp)]
    []
    """
    if model.mains is None:
        return ()
    low, high = (end.value for end in model.mains)
    return Limit("at least", low, "its data sheet"), Limit("at most", high, "its data sheet")


def generator_near() -> Limit:
    """On the load over the generator's rating at programme: common practice, no source.

    >>> generator_near().value
    0.8
    """
    return Limit("at most", 0.8, f"of the whole or the most loaded phase; room for peaks: {COMMON}")


def generator_full() -> Limit:
    """On the load over the generator's rating: all of it, by definition.

    >>> generator_full().value
    1.0
    """
    return Limit("at most", 1.0, "its rating, of the whole or the most loaded phase")


def lowest_voltage() -> Limit:
    """%, under the nominal voltage at the end of a supply cable: what equipment must work with [1]_.

    >>> lowest_voltage().value
    10.0

    .. [1] IEC 60038, from memory.
    """
    return Limit("at most", 10.0, "IEC 60038, from memory")


def touch_voltage(voltage: float, wet: bool = False) -> Limit:
    """V, of the highest class that an exposed contact of `voltage` is over; in the wet less is accepted than of any class.

    Classes [1]_; wet hands [2]_.

    >>> touch_voltage(93.8).value, touch_voltage(60.0, wet=True).value
    (71.0, 25.0)

    .. [1] IEC 62368-1 Annex E Table E.1, from memory.
    .. [2] IEC 60364-4-41, from memory.
    """
    if voltage > touch.ES2:
        return Limit("at most", touch.ES2, f"class ES2 ({touch.SOURCE})")
    wet_hands = Limit("at most", touch.WET, "wet hands (IEC 60364-4-41, from memory)")
    return wet_hands if wet else Limit("at most", touch.ES1, f"class ES1 ({touch.SOURCE})")
