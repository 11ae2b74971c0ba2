"""What a form asks of the rig as a whole: its settings, its mains, the crew's times, and what stands by.

One description a sheet: its fields, its values now, and how values become a rig.
"""

from typing import Any

from msgspec.structs import replace

from rackwright.console.forms.fields import asked
from rackwright.console.forms.options import Options
from rackwright.console.forms.sheet import Sheet
from rackwright.console.widgets.fields import Option, Values, Words
from rackwright.model import edits
from rackwright.model.lines import Spare, Stock
from rackwright.model.mains import Measured, Supply
from rackwright.model.rig import FRONT_OF_HOUSE, MoveTimes, Rig, Targets
from rackwright.units import Length

PHASE_COUNTS = (
    Option("", "from the circuits"),
    Option("1", "single-phase"),
    Option("2", "split phase"),
    Option("3", "three-phase"),
)
_COMMON = ("voltage", "frequency", "rules", "phases", "generator", "generator_dip", "ambient")
"""What the settings ask of the supply; the mains tree asks all of it."""


def owned(options: Options, item: Spare | Stock, new: bool = False) -> Sheet:
    """The sheet of what stands by for a failure, or of what the company owns; these have no id of their own."""
    table, kind = ("stock", "stock") if isinstance(item, Stock) else ("spares", "spare")
    cables, is_cable = options.cables(), bool(item.cable)
    if is_cable:
        fields = asked(type(item), "cable", "length", "count", "case", cable=lambda _values: cables)
    else:
        amplifiers = options.models(options.known.amplifiers)
        fields = asked(Spare, "amplifier", "count", "case", amplifier=amplifiers)
    values = {field.name: getattr(item, field.name) for field in fields}

    def make(rig: Rig, given: Values) -> Rig:
        now, held = replace(item, **given), getattr(rig, table)
        rig = options.equipped(rig, now)
        listed: Any = (*held, now) if new else tuple(now if each.id == item.id else each for each in held)
        changed: dict[str, Any] = {table: listed}
        return edits.change_settings(rig, **changed)

    what = f"{kind} {'cable' if is_cable else 'amplifier'}" if kind == "spare" else "stocked cable"
    title = f"New {what}" if new else f"{what.capitalize()} {item.id}"
    label = f"add {what}" if new else f"edit {what} {item.id}"
    return Sheet(title, label, fields, values, make, lambda given: replace(item, **given).id, adds=new)


def new_owned(options: Options, kind: str) -> Sheet:
    """The sheet to add a thing with: kind `stock`, `cable` or `amplifier`, the last two being spares.

    It proposes the first that the rig uses and the list has not.
    """
    used: list[Spare | Stock]
    if kind == "amplifier":
        models = [
            *(a.model for a in options.rig.amplifiers()),
            *(model.id for model in options.known.amplifiers),
        ]
        used = [Spare(amplifier=model) for model in models]
    else:
        made = Stock if kind == "stock" else Spare
        own = [(line.cable, line.length) for line in options.rig.lines]
        usual = (options.usual_cable, Length.parse("20 m"))
        used = [made(cable=cable, length=length) for cable, length in (*own, usual)]
    held = {item.id for item in (options.rig.stock if kind == "stock" else options.rig.spares)}
    return owned(options, next((item for item in used if item.id not in held), used[0]), new=True)


def settings(options: Options) -> Sheet:
    """The sheet of the rig's own settings: name, notes, supply, whether it may get wet, targets."""
    racks = (Option(FRONT_OF_HOUSE), *(Option(rack.id, rack.name) for rack in options.rig.racks))
    targeted = asked(Targets, crew_at=lambda _values: racks)
    (named, wet), notes = asked(Rig, "name", "wet"), Words("notes", "Notes", lines=4)
    supply, targets = _supply(options, *_COMMON), options.rig.targets
    values = {**supply.values, "name": options.rig.name, "notes": options.rig.notes, "wet": options.rig.wet}
    values |= {field.name: getattr(targets, field.name) for field in targeted}

    def make(rig: Rig, given: Values) -> Rig:
        now = replace(rig.targets, **{field.name: given[field.name] for field in targeted})
        changed: dict[str, Any] = {"targets": now} if now != rig.targets else {}
        return edits.change_settings(
            supply.make(rig, given), name=given["name"], notes=given["notes"], wet=given["wet"], **changed
        )

    title, fields = f"Settings of {options.rig.title}", (named, notes, *supply.fields, wet, *targeted)
    return Sheet(title, "edit settings", fields, values, make, lambda _given: "")


def intake(options: Options) -> Sheet:
    """The sheet of the supply: all there is to say of it."""
    return _supply(options)


def _supply(options: Options, *names: str) -> Sheet:
    supply = options.rig.supply
    fields = asked(Supply, *names, phases=lambda _values: PHASE_COUNTS)
    values = {field.name: getattr(supply, field.name) for field in fields}
    values["phases"] = str(supply.phases or "")

    def make(rig: Rig, given: Values) -> Rig:
        chosen = {field.name: given[field.name] for field in fields}
        chosen["phases"] = int(given["phases"]) if given["phases"] else None
        now = replace(rig.supply, **chosen)
        return edits.change_settings(rig, supply=now) if now != rig.supply else rig

    return Sheet("Intake", "edit the intake", fields, values, make, lambda _given: "")


def measured(options: Options, circuit: str, when: str) -> Sheet:
    """The sheet of what a clamp meter shows of a circuit, by now at `when`; left empty, nothing was measured."""
    before = options.index.circuits[circuit].measured
    current, moment = asked(Measured)
    fields = (replace(current, empty="nothing measured"), moment)
    values = {"current": before.current if before else None, "when": when}

    def make(rig: Rig, given: Values) -> Rig:
        now = Measured(**given) if given["current"] else None
        return edits.change(rig, circuit, measured=now) if now != before else rig

    title, label = f"Clamp meter on {circuit}", f"note the current of {circuit}"
    return Sheet(title, label, fields, values, make, lambda _given: circuit)


def times(options: Options) -> Sheet:
    """The sheet of what the crew takes for each thing that it does after a failure."""
    fields, times = asked(MoveTimes), options.rig.targets.times
    values = {field.name: getattr(times, field.name) for field in fields}

    def make(rig: Rig, given: Values) -> Rig:
        now = replace(rig.targets, times=replace(rig.targets.times, **given))
        return edits.change_settings(rig, targets=now) if now != rig.targets else rig

    return Sheet("Time the crew takes for a move", "edit times", fields, values, make, lambda _given: "")
