"""The working of the voltage that a finger may meet."""

from rackwright.engine import touch
from rackwright.engine.workings.amplifier import Subject
from rackwright.engine.workings.cable import Part
from rackwright.engine.workings.channel import open_voltage, ratings_source
from rackwright.engine.workings.steps import Step, final, operand


def touch_voltage(of: Subject) -> list[Step]:
    """The worst voltage at a channel's terminals, or on a socket's or cabinet's exposed contacts."""
    result = of.rig.touch[of.id]
    branch = of.rig.branches[result.channel]
    nothing_connected = open_voltage(Part(branch, of.rig.index.rig.supply.ambient.value))
    points = branch.output.points
    rated = Step(
        f"Highest rated voltage of {branch.id}" + (", bridged" if branch.mode == "bridged" else ""),
        "V = √(P·Z), the largest",
        ", ".join(f"{operand(p.voltage, 'V')} at {operand(p.load, 'Ω')}" for p in points),
        max([p.voltage for p in points]),
        "V",
        ratings_source(branch),
    )
    worst = max(final(nothing_connected), rated.value)
    level = touch.touch_class(worst)
    access = "a finger reaches it" if result.exposed else "shrouded: out of reach"
    stands = Step(
        f"Highest voltage at {of.id}: class {level}, {touch.SPANS[level]}; {access}",
        "the larger of the two",
        f"{nothing_connected[-1].operand}, {rated.operand}",
        worst,
        "V",
        touch.SOURCE,
    )
    return [*nothing_connected, rated, stands]
