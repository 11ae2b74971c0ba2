"""What each finding means by its code: what is wrong, the limits that it is judged by, and what to do.

A limit's words and source are those of its function in `limits`; figures and names of a rig are in the finding itself.
"""

import re
from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

from rackwright.engine import cautions, limits
from rackwright.engine.finding import IN_ORDER, PLANS, WHICH


class Meaning(NamedTuple):
    """What a finding means, in sentences."""

    means: str
    do: str
    limits: tuple[Callable[..., Any], ...] = ()
    """Those of `limits` that its figure may be past."""

    def limit_words(self) -> tuple[str, ...]:
        """Each limit in a sentence, with its sources behind it."""
        return tuple(_words(limit) for limit in self.limits)


def _words(limit: Callable[..., Any]) -> str:
    """The first paragraph of a docstring and the references under it, in one line."""
    text = re.sub(r"\n\s*>>>.*?(?=\n\s*\n|\Z)", "", limit.__doc__ or "", flags=re.DOTALL)
    body, *sources = re.split(r"\n\s*\.\. \[\d+\] ", text)
    said = re.sub(r" ?\[(\d+)\]_", r" (\1)", " ".join(body.replace("`", "").split()))
    listed = "; ".join(f"({n}) {' '.join(source.split()).rstrip('.')}" for n, source in enumerate(sources, 1))
    said = said if said.startswith("On ") else f"In {said}"  # a unit first
    return f"{said} {listed}." if listed else said


_LOADING = (limits.loading_stop, limits.loading_near, limits.loading_heavy)
_SPARE = "Unplug what can be spared on it, or have a licensed electrician feed some of it from elsewhere."
_OTHER_CIRCUIT = f"Move an amplifier to another circuit ({WHICH}), or drive less."
_WHY_FIRST = "Find out why before anyone resets it, and switch off first what hangs on it."
_PLANS = f"{PLANS}."
_RESET = "A reset is for those who know why it tripped; repairs are for licensed electricians."
_CABLE = "Use a shorter line, a larger size or cores in parallel, or give it a line of its own."
_SUPPLY_CABLE = "Use a larger or shorter supply cable, or move an amplifier to another circuit."

MEANINGS: Mapping[str, Meaning] = {
    # a channel and its wiring
    "load-below-minimum": Meaning(
        "The sections on a channel together have less impedance than the amplifier is rated to drive: it protects itself, overheats or fails.",
        "Move a section to another channel, or wire fewer in parallel.",
        (limits.load_nominal,),
    ),
    "impedance-dips": Meaning(
        "Somewhere in the feed's band the impedance falls below what the amplifier's lowest rated load implies.",
        "Remove a section from this channel, or drive it from an amplifier with a lower rated load.",
        (limits.load_minimum,),
    ),
    "current-over-rating": Meaning(
        "The current at full power is over what a terminal, connector or cable core is rated for; a stop where it lasts when driven hard, a note where the feed's rms limiter holds it under that, by no assumed gain.",
        "Set the rms limiter where that holds it, split the load over more lines or pole pairs, use more cores in parallel, or a part rated for it.",
        (limits.terminal_current, limits.run_currents),
    ),
    "channel-without-feed": Meaning("A channel drives sections and no signal reaches it.", "Give it a feed."),
    "channel-unused": Meaning(
        "A channel has a feed or a patch and drives nothing.", "Wire it, or leave it as a spare."
    ),
    "pair-feeds-differ": Meaning(
        "In parallel mode and in a bridge both channels of a pair play the first one's feed, and the second is set to another.",
        "Set both channels to one feed, or the pair to dual.",
    ),
    "bridge-second-wired": Meaning(
        "Something is patched to the second half of a bridged pair: current flows there that no one expects.",
        "Switch the amplifier off, then wire it to the first channel of the pair, or set the pair to dual.",
    ),
    "name-unprinted": Meaning(
        "A name has a sign that the typeface of the PDFs lacks. It has Latin, Greek and Cyrillic; HTML prints any script.",
        "Write the name in one of these, or print the papers from HTML.",
    ),
    "outputs-joined": Meaning(
        "Two amplifier channels drive one section: joining two outputs destroys both.",
        "Keep both amplifiers off, and unpatch one of the two before switching anything on.",
    ),
    "poles-crossed": Meaning(
        "Two pole pairs of a cabinet are exchanged: each section gets the feed that is meant for the other, which can destroy a high driver.",
        "Switch off first; then exchange the two pole pairs at the socket, or remove the crossed adaptor.",
    ),
    "polarity-mixed": Meaning(
        "Some sections of a kind on one feed have the opposite polarity to the others: they cancel each other.",
        "Reverse the pole pair at the socket, or, if it is intended, give what differs a feed of its own.",
    ),
    "band-too-low": Meaning(
        "The feed begins under the lowest frequency that a section is made for; a stop for mids and highs, which it can destroy.",
        "Patch it to a feed that begins higher, or raise the band of the feed.",
        (limits.band_start,),
    ),
    "band-misses-section": Meaning(
        "The feed plays a band that the section is not made for.", "Patch it to its own feed."
    ),
    "capacitor-in-band": Meaning(
        "A capacitor in series takes 3 dB or more from a section within the feed's band.",
        "Fit a larger one, or have the processor make up for it.",
        (limits.capacitor_corner,),
    ),
    "cable-loss": Meaning("A line loses more level than the rig's target accepts.", _CABLE, (limits.loss,)),
    "damping-low": Meaning(
        "Amplifier and cable hold the cone of a low section less than the rig's target asks for.",
        "Use a shorter line, a larger size or cores in parallel, or put fewer drivers on the channel.",
        (limits.damping_factor,),
    ),
    "lows-chained": Meaning(
        "Low sections that are linked from cabinet to cabinet share a line, and each would have more damping on its own.",
        "Give each its own line from the rack where sockets and cable allow.",
    ),
    "short-of-power": Meaning(
        "A section gets less power than half its continuous rating: who wants it louder drives the amplifier into clipping.",
        "Drive fewer sections from the channel, bridge the pair where its load allows, or use a larger amplifier.",
        (limits.headroom_short,),
    ),
    "gain-differs": Meaning(
        "At one setting of the processor sections of one kind on one feed play at different levels.",
        "Trim the louder ones, or give each gain a processor output of its own; a note where trims make it on purpose.",
        (limits.gain_apart,),
    ),
    "gain-assumed": Meaning(
        "The gain of an amplifier is not known. What is typed into the processor in dBu rests on it: with more gain a limiter protects no driver.",
        "Read it off the data sheet, or measure volts at the output over volts at the input with no load, and enter it.",
    ),
    "figures-assumed": Meaning(
        "Figures of an amplifier are not known, and taken to be usual, on the safe side (common practice, no source).",
        "Read them off the data sheet, and enter them: t in the console, or in the file without their names under assumed.",
    ),
    # limiters
    "over-power-without-limiter": Meaning(
        "A section can get more than twice its continuous power, and no rms limiter is set for its feed.",
        "Set the rms limiter as advised, or less.",
        (limits.power,),
    ),
    "limiter-too-high": Meaning(
        "A limiter lets through more than is safe for the sections that it protects.",
        "Set it as advised, or less.",
        (limits.limiter_set,),
    ),
    "limiter-for-one-gain": Meaning(
        "A limiter is stated in volts, which hold at one gain, and the channels of its feed have several.",
        "State it in dBu, as the processor shows it, or name the channel that the volts hold at.",
        (limits.limiter_set,),
    ),
    "clips-before-limiter": Meaning(
        "The amplifier clips before a limiter acts: a sine before the rms limiter, a peak before the peak limiter.",
        "Set it as advised, or less, or use a larger amplifier.",
    ),
    # the meter check
    "line-wrong": Meaning(
        "A reading of the meter check is out of its limits, or an eye or ear found a fault.",
        "Read what explains it in the meter check, and find the fault before switching on.",
    ),
    "line-not-proved": Meaning(
        "What was read fits two states of the line, and nobody listened.",
        "Listen to the pole pair, note what is heard, and read again.",
    ),
    "line-drifted": Meaning(
        "A reading is within its limits, and not what the same line read before.",
        "Look at contacts and cable before they fail.",
    ),
    # circuits
    "circuit-overloaded": Meaning(
        "A circuit carries more than its breaker at programme: it trips during the show.", _OTHER_CIRCUIT, _LOADING
    ),
    "circuit-near-limit": Meaning(
        "A circuit is nearly full at programme: a fan or a loud song is enough to trip it.", _OTHER_CIRCUIT, _LOADING
    ),
    "circuit-heavy-overload": Meaning(
        "A circuit carries programme, and more than its breaker when driven hard.",
        f"{_OTHER_CIRCUIT} Or don't drive it hard for long.",
        _LOADING,
    ),
    "circuit-failed": Meaning(
        "A circuit has no power; a stop where cabinets are silent for it.", f"{_WHY_FIRST} {_PLANS} {_RESET}"
    ),
    "circuit-empty": Meaning(
        "A circuit is listed and nothing hangs on it.",
        "Use it for a circuit that is nearly full, or remove it from the rig.",
    ),
    "no-circuits": Meaning(
        "No circuits are listed, so that no breaker is checked.",
        "List the circuits at the venue, and say which amplifier is on which.",
    ),
    "amplifier-without-circuit": Meaning(
        "An amplifier hangs on no circuit, and no breaker is checked for it.", "Put it on one that has room."
    ),
    "load-without-circuit": Meaning(
        "Something else that draws current hangs on no circuit.", "Say which circuit it hangs on."
    ),
    "mains-voltage": Meaning(
        "An amplifier would get a mains voltage that its data sheet does not allow.",
        "Don't plug it in: move it to a circuit with its voltage.",
        (limits.mains_voltage,),
    ),
    "inrush-over-band": Meaning(
        "What is switched on together draws so much at first that a breaker may trip at once.",
        f"Switch on group after group, {IN_ORDER}; after an outage switch all off first.",
        (limits.inrush,),
    ),
    "feed-drop": Meaning(
        "Supply cables lose more of the mains voltage than is accepted.", _SUPPLY_CABLE, (limits.drop,)
    ),
    "supply-voltage-low": Meaning(
        "The generator's dip and the supply cables together leave too little voltage at the end of a circuit.",
        "Use a larger generator, or a larger or shorter supply cable.",
        (limits.lowest_voltage,),
    ),
    "cable-unprotected": Meaning(
        "A breaker lets through more than the supply cable behind it carries: the cable can overheat before it trips.",
        "Use a larger cable or a smaller breaker; a licensed electrician decides.",
        (limits.cable,),
    ),
    "cable-on-drum": Meaning(
        "A cable on its drum carries less than its breaker lets through: it can melt.",
        "Unroll it all.",
        (limits.cable,),
    ),
    "cable-capacity-unknown": Meaning(
        "No table here holds a supply cable as it is stated, so that it is not checked.",
        "State its highest current from its data sheet, and let a licensed electrician check its breaker.",
    ),
    "fault-current-low": Meaning(
        "A fault at the far end of a supply cable draws so little that its breaker may not trip at once.",
        "Use a larger or shorter cable, and let a licensed electrician measure the loop.",
        (limits.fault,),
    ),
    "measured-over-programme": Meaning(
        "A clamp meter showed more than programme is counted with, so that figures at programme are too low.",
        "Let programme count with it at this venue, or turn down.",
        (limits.measured_duty,),
    ),
    # intake, boards, generator
    "board-overloaded": Meaning("A board carries more than its device at programme.", _SPARE, _LOADING),
    "board-near-limit": Meaning("A board is nearly full at programme.", _SPARE, _LOADING),
    "board-heavy-overload": Meaning("A board carries more than its device when driven hard.", _SPARE, _LOADING),
    "board-failed": Meaning(
        "A board has no power; a stop where cabinets are silent for it.", f"{_WHY_FIRST} {_PLANS} {_RESET}"
    ),
    "intake-overloaded": Meaning("The intake carries more than its device at programme.", _SPARE, _LOADING),
    "intake-near-limit": Meaning("The intake is nearly full at programme.", _SPARE, _LOADING),
    "intake-heavy-overload": Meaning("The intake carries more than its device when driven hard.", _SPARE, _LOADING),
    "phases-uneven": Meaning(
        "The three phases carry unlike currents: one is full while another has room, and the neutral carries the difference.",
        f"Move amplifiers from the most loaded phase to the least loaded; {WHICH}.",
        (limits.imbalance,),
    ),
    "neutral-harmonics": Meaning(
        "Power supplies without power-factor correction can make the neutral carry more than any phase.",
        "Use a supply cable with a neutral rated for that, and let a licensed electrician check it.",
        (limits.neutral,),
    ),
    "neutral-overloaded": Meaning(
        "The neutral may carry more than it is rated for, and no breaker protects it.",
        "Even the phases, or have a licensed electrician give it a larger neutral.",
        (limits.neutral_rating,),
    ),
    "generator-near-limit": Meaning(
        "The generator is nearly full at programme.",
        "Use a larger one, even the phases, or switch off amplifiers that can be spared.",
        (limits.generator_near,),
    ),
    "generator-overloaded": Meaning(
        "The load at programme is over what the generator is rated for.",
        "Use a larger one, even the phases, or switch off amplifiers that can be spared.",
        (limits.generator_full,),
    ),
    "rcd-leakage": Meaning(
        "So much leaks to earth behind a residual-current device while all is well that it may trip.",
        "Spread what leaks over more than one, and measure with a leakage clamp. Never leave it out.",
        (limits.rcd,),
    ),
    "rcd-missing": Meaning(
        "Outdoors or in the damp, and no residual-current device for persons is stated before some circuits.",
        "Ask the electrician before anything is plugged in, and state each one that there is.",
    ),
    # touch
    "touch-voltage": Meaning(
        "A contact that a finger reaches can carry a dangerous voltage.",
        f"Cover it, or use a shrouded connector. {cautions.POWER_DOWN}",
        (limits.touch_voltage,),
    ),
    "touch-wet": Meaning(
        "In the wet less voltage is accepted, and connectors carry more.",
        f"Keep every connector mated and off wet ground, and power down before unmating any. {cautions.POWER_DOWN}",
        (limits.touch_voltage,),
    ),
    "touch-between-contacts": Meaning(
        "Between two contacts on one panel that a finger reaches there is more voltage than on either.",
        f"Cover them, or use shrouded connectors. {cautions.POWER_DOWN}",
        (limits.touch_voltage,),
    ),
    # racks, sockets, silence, failures
    "rack-overfull": Meaning("An amplifier reaches over the top of its rack.", "Move it down, or to another rack."),
    "units-overlap": Meaning("Two amplifiers are in the same rack unit.", "Move one of the two."),
    "socket-split": Meaning(
        "Several lines begin at one socket, which takes one plug.",
        "Use a split lead, link the second cabinet from the first, or give it a socket of its own.",
    ),
    "section-silent": Meaning(
        "No channel reaches a section.", "Connect its cabinet, patch the pole pair, or check that the line has the poles."
    ),
    "cabinet-muted": Meaning(
        "A cabinet is silent by choice: its plug is pulled.", "Plug it in again when there is power for it."
    ),
    "section-distorted": Meaning(
        "A driver is marked as distorted: it is damaged.",
        "Mute it or turn it down before it shorts, and have it repaired.",
    ),
    **{
        f"{kind}-failed": Meaning(
            f"{words} is marked failed, and cabinets are silent for it.", f"Switch off before you re-patch. {_PLANS}"
        )
        for kind, words in (
            ("rack", "A rack"),
            ("amplifier", "An amplifier"),
            ("channel", "A channel"),
            ("socket", "A socket"),
            ("line", "A line"),
            ("cabinet", "A cabinet"),
            ("section", "A driver"),
            ("feed", "A feed"),
            ("phase", "A phase"),
            ("pole-pair", "A pole pair of a socket"),
            ("line-pair", "A pole pair of a line"),
        )
    },
}  # fmt: skip
"""Code → what it means, in the order in which the sheet of findings is best read: signal, then mains, then touch."""
