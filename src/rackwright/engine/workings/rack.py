"""The workings of a rack: its load, weight and height."""

from collections.abc import Callable, Mapping

from rackwright.engine.workings.amplifier import Explainer, Subject, demand, group_apparent, model_of, sum_of
from rackwright.engine.workings.steps import RIG, Step
from rackwright.model.equipment import AmplifierModel


def _in_rack(of: Subject) -> tuple[str, ...]:
    return tuple(amplifier.id for amplifier in of.rig.index.racks[of.id].amplifiers)


def _stated_sum(what: str, stated: Callable[[AmplifierModel], float], unit: str) -> Explainer:
    """A sum over a rack of what the data sheets of its amplifiers state."""

    def explain(of: Subject) -> list[Step]:
        parts = [(name, stated(model_of(of._replace(id=name)))) for name in _in_rack(of)]
        return [sum_of(what, parts, unit)._replace(source="data sheets of its amplifiers")]

    return explain


def _rack_units(of: Subject) -> list[Step]:
    height = of.rig.index.racks[of.id].height
    return [Step("Height of the rack", "as stated", f"{height} U", float(height), "U", RIG)]


RACK: Mapping[str, Explainer] = {
    **demand(_in_rack),
    "apparent": group_apparent(_in_rack, "programme"),
    "apparent_heavy": group_apparent(_in_rack, "heavy"),
    "weight": _stated_sum("Weight of its amplifiers", lambda model: model.weight.value, "kg"),
    "units_used": _stated_sum("Units its amplifiers take", lambda model: float(model.height), "U"),
    "units": _rack_units,
}
