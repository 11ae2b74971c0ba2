"""No circuit over its breaker for an amplifier that is plugged in there."""

from rackwright.engine import amplifier as source
from rackwright.engine import limits, outage
from rackwright.engine.allocation.program import Terms
from rackwright.engine.recovery import criteria
from rackwright.engine.recovery.choices.patching import Patching
from rackwright.model.racks import Amplifier, channel_name


class Mains:
    """The circuits in a programme."""

    def __init__(self, patching: Patching) -> None:
        self.patching, self.channels, self.columns = patching, patching.channels, patching.columns
        self.task, self.index, self.program = patching.task, patching.index, patching.program

    def hold(self) -> None:
        """No circuit over its breaker at programme, calculated with the least that an amplifier can draw for its loads."""
        index, duty = self.index, self.index.rig.programme_duty
        if all(len(options) == 1 for options in self.channels.circuits.values()):
            return
        stop = limits.loading_stop(index.rig.supply.rules).value
        inside = {a.id for a in self.channels.amplifiers}
        for circuit in index.rig.circuits:
            if outage.of_circuit(index, circuit):
                continue
            result = self.task.broken.circuits[circuit.id]
            most = max(stop * result.breaker, result.programme_current * (1 + criteria.GRAVER))
            loads = [self.task.broken.loads[name].programme_current for name in result.loads]
            terms: list[tuple[int, float]] = [(self.columns.one, sum(loads))] if loads else []
            for name in result.amplifiers:
                if name not in inside:
                    terms.append((self.columns.one, self.task.broken.amplifiers[name].programme_current))
                else:
                    terms += self._draw(index.amplifiers[name], duty)
            for amplifier in self.channels.amplifiers:
                column = self.channels.circuits[amplifier.id].get(circuit.id)
                if column is None or amplifier.circuit == circuit.id:
                    continue
                draw = self._draw(amplifier, duty)
                top = self._most_drawn(amplifier, duty)
                carried = self.program.column(0, top, whole=False)
                self.program.row([(carried, 1.0), *((c, -f) for c, f in draw), (column, -top)], low=-top)
                terms.append((carried, 1.0))
            self.program.row(terms, high=most + 1e-6)

    def _most_drawn(self, amplifier: Amplifier, duty: float) -> float:
        """A, more than `_draw` can come to."""
        draw = self._draw(amplifier, duty)
        model, supply = self.index.amplifier_models[amplifier.model], self.index.rig.supply
        full = sum(
            max(
                [
                    0.0,
                    *(
                        p.voltage * p.current
                        for _, s, _ in self.channels.settings_of(name)
                        for p in s.output.points
                    ),
                ]
            )
            for name in (channel_name(amplifier.id, n) for n in range(model.channels))
        )
        return draw[0][1] + duty / model.efficiency * full / (supply.voltage.value * model.power_factor)

    def _draw(self, amplifier: Amplifier, duty: float) -> Terms:
        model, supply = self.index.amplifier_models[amplifier.model], self.index.rig.supply
        volt_amperes = supply.voltage.value * model.power_factor
        terms: list[tuple[int, float]] = [(self.columns.one, model.idle_power.value / volt_amperes)]
        for number in range(model.channels):
            name = channel_name(amplifier.id, number)
            settings = [s for _, s, usable in self.channels.settings_of(name) if usable]
            if not settings or any(s.model != amplifier.model for s in settings):
                continue
            least = min(source.limit_voltage(s.output.points, s.output.points[-1].load) for s in settings)
            factor = duty / model.efficiency / volt_amperes * least * least
            terms += [
                (use.sounds, factor * self.patching.load(use.pair).admittance)
                for use in self.patching.uses[name]
            ]
        return terms
