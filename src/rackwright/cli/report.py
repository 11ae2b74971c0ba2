"""Reports as JSON, and that of `check`: keys with their SI unit, full precision, in the order of the rig."""

from collections.abc import Iterable
from typing import Any

import msgspec

from rackwright.engine import figures
from rackwright.engine.assess import Assessed
from rackwright.engine.channel import outage_of
from rackwright.engine.outage import Outage
from rackwright.model.rig import Rig

REPORT_FORMAT = 1


CONTRACT = {
    "circuits": (
        "id",
        "idle_a",
        "programme_a",
        "heavy_a",
        "breaker_a",
        "loading",
        "drop_percent",
        "inrush_a",
    ),
    "racks": ("id", "heat_w", "weight_kg", "units_used", "units"),
}
"""Keys that come first, in this order, where the table of figures has another."""
GONE = {"neutral_harmonic_a": None}
"""Keys of the supply whose figure is part of another now: `neutral_a` is the whole."""


def report(rig: Rig, assessment: Assessed) -> dict[str, Any]:
    """The report as plain data."""
    return {
        "format": REPORT_FORMAT,
        "rig": rig.name,
        "findings": [
            {"code": f.code, "severity": f.severity, "at": f.at, "message": f.message, "advice": f.advice}
            for f in assessment.findings
        ],
        "channels": [
            {
                "id": c.id,
                "feed": c.feed,
                "state": c.state,
                **_figures(c, figures.CHANNEL_FIGURES),
                "cause": _cause(c.outage),
            }
            for c in assessment.channels.values()
        ],
        "sections": [
            {
                "cabinet": s.cabinet,
                "section": s.section,
                "channel": s.channel,
                "polarity": s.polarity,
                **_figures(s, figures.SECTION_FIGURES),
                "capacitor_f": s.advised_capacitor,  # its former name
                "ring_down_s": None,  # the decay of the first version, wrong for a vented box: gone in the next
                "ring_down_cycles": None,
                "patched": s.patched,
                "cause": _cause(outage_of(assessment.index, assessment.branches, s)),
            }
            for s in assessment.sections.values()
        ],
        "boards": [
            {
                "id": b.id,
                "from": b.source or None,
                "state": b.state,
                **_figures(b, figures.BOARD_FIGURES),
                **_figures(assessment.cables.get(b.id), figures.CABLE_FIGURES),
                "phases": [
                    {
                        "id": line.id,
                        "idle_a": line.idle_current,
                        "programme_a": line.programme_current,
                        "heavy_a": line.heavy_current,
                    }
                    for line in b.lines
                ],
            }
            for b in assessment.boards.values()
        ],
        "circuits": [
            _ordered(
                "circuits",
                {
                    "id": c.id,
                    "phase": c.phase,
                    "state": c.state,
                    **_figures(c, figures.CIRCUIT_FIGURES),
                    **_figures(assessment.cables.get(c.id), figures.CABLE_FIGURES),
                    "board": c.board or None,
                    "measured_a": c.measured,
                    "measured_duty": c.measured_duty,
                },
            )
            for c in assessment.circuits.values()
        ],
        "loads": [
            {
                "id": load.id,
                "circuit": load.circuit or None,
                "state": load.state,
                **_figures(load, figures.LOAD_FIGURES),
            }
            for load in assessment.loads.values()
        ],
        "rcds": [
            {"at": r.id, "rating_a": r.rating, "leakage_a": r.leakage} for r in assessment.rcds.values()
        ],
        "racks": [
            _ordered("racks", {"id": r.id, **_figures(r, figures.RACK_FIGURES)})
            for r in assessment.racks.values()
        ],
        "lines": [
            {
                "id": r.line,
                "near": r.near,
                "far": r.far,
                "channel": r.channel,
                **_figures(r, figures.RUN_FIGURES),
            }
            for runs in assessment.runs.values()
            for r in runs
        ],
        "amplifiers": [
            {"id": a.id, "circuit": a.circuit or None, **_figures(a, figures.AMPLIFIER_FIGURES)}
            for a in assessment.amplifiers.values()
        ],
        "phases": [{"id": p.id, **_figures(p, figures.PHASE_FIGURES)} for p in assessment.phases.values()],
        "supply": _figures(
            assessment.supply,
            (*figures.SUPPLY_FIGURES, *figures.INTAKE_FIGURES, *figures.INRUSH_FIGURES),
        )
        | GONE,
        "touch": [
            {
                "at": t.place,
                "contact": t.contact,
                "channel": t.channel,
                "voltage_v": t.voltage,
                "class": t.touch_class,
                "exposed": t.exposed,
            }
            for t in assessment.touch.values()
        ],
    }


def _cause(failed: Outage | None) -> str | None:
    """What keeps it silent, in the words that `recover --failed` takes."""
    if failed is None:
        return None
    from rackwright.engine.recovery.failure import written  # with it comes the whole search for plans

    return written(failed)


def _ordered(kind: str, entry: dict[str, Any]) -> dict[str, Any]:
    return {key: entry[key] for key in CONTRACT[kind]} | entry


def _figures(result: object, table: Iterable[figures.Figure]) -> dict[str, Any]:
    return {figure.key: getattr(result, figure.name, None) for figure in table}


def json_text(told: dict[str, Any]) -> str:
    """A report as JSON text."""
    return msgspec.json.format(msgspec.json.encode(told), indent=1).decode() + "\n"
