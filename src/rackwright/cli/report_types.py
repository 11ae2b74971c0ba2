"""What each report as JSON holds, key by key: types that msgspec makes a JSON Schema of, as `schema` prints it.

The figures' keys come from the table that the reports are made from. Describes only: the reports are made by their commands.
"""

from collections.abc import Iterable
from typing import Annotated, Any, Literal, NamedTuple

import msgspec
from msgspec import Struct

from rackwright.cli.report import GONE, REPORT_FORMAT
from rackwright.engine import figures
from rackwright.engine.diagnosis import Word
from rackwright.engine.diagnosis.faults import Heard
from rackwright.engine.finding import Severity
from rackwright.engine.meter_check.faults import Kind
from rackwright.engine.meter_check.kept_readings import Status
from rackwright.engine.recovery import FailingKind
from rackwright.engine.recovery.plan import Role
from rackwright.engine.recovery.preparation import HelpKind
from rackwright.engine.results import Contact, TouchClass
from rackwright.model.mains import Phase, Phases, State
from rackwright.model.night import RewiringKind, StepKind

DRAFT = "https://json-schema.org/draft/2020-12/schema"


class Report(NamedTuple):
    """What a command prints with --json."""

    command: str
    kind: type[Struct]


def schema(name: str) -> dict[str, Any]:
    """The JSON Schema of a report."""
    report = REPORTS[name]
    about = {"title": report.command, "description": report.kind.__doc__}
    return {"$schema": DRAFT, **about, **msgspec.json.schema(report.kind)}


def _object(name: str, words: str, keys: dict[str, Any]) -> type[Struct]:
    """An object that has all of these keys, each with the type of what stands there, and no others."""
    fields = list(keys.items())
    return msgspec.defstruct(name, fields, namespace={"__doc__": words}, forbid_unknown_fields=True)


def _report(name: str, words: str, keys: dict[str, Any]) -> type[Struct]:
    head = {"format": Literal[REPORT_FORMAT], "rig": _said(str, "name of the rig")}
    return _object(name, words, head | keys)


def _said(kind: Any, words: str) -> Any:
    """A type with what stands in it, and its unit."""
    return Annotated[kind, msgspec.Meta(description=words)]


def _list(item: Any, words: str = "") -> Any:
    return _said(tuple[item, ...], words) if words else tuple[item, ...]


def _figures(*tables: Iterable[figures.Figure]) -> dict[str, Any]:
    """The figures of these tables, null where there is nothing to say."""
    return {
        each.key: _said(float | None, f"{each.label}, {each.unit}" if each.unit else each.label)
        for table in tables
        for each in table
    }


NAMES = _list(str)
CAUSE = _said(str | None, "what keeps it silent, as recover --failed takes it")
CIRCUIT = _said(str | None, "null where it is on none")
OHM, DB, SECONDS = _said(float, "Ω"), _said(float, "dB"), _said(float, "s")
SHARE = _said(float, "how likely, 0 to 1")
WEIGHT = _said(float, "sum over what is silent, by priority")
_FINDING = {
    "code": _said(str, "as explain takes it"),
    "severity": Severity,
    "at": _said(str, "id of what it is about"),
    "message": str,
}

CHECK = _report(
    "Check",
    "Every figure of a rig, and every finding. A figure is null where there is nothing to say.",
    {
        "findings": _list(
            _object("Finding", "What is wrong, and what to do.", {**_FINDING, "advice": str}),
            "the most severe first",
        ),
        "channels": _list(
            _object(
                "Channel",
                "An amplifier channel at full power.",
                {"id": str, "feed": _said(str, "empty where it plays none"), "state": State, "cause": CAUSE}
                | _figures(figures.CHANNEL_FIGURES),
            )
        ),
        "sections": _list(
            _object(
                "Section",
                "A section of a cabinet at its amplifier's full power.",
                {
                    "cabinet": str,
                    "section": str,
                    "channel": _said(str | None, "what drives it; null where nothing does"),
                    "polarity": _said(Literal[1, -1] | None, "feed and patch together"),
                    **_figures(figures.SECTION_FIGURES),
                    "capacitor_f": _said(float | None, "former name of advised_capacitor_f"),
                    "ring_down_s": _said(None, "gone: see decay_s"),
                    "ring_down_cycles": _said(None, "gone: see decay_s"),
                    "patched": _said(str | None, "the channel it is patched to, failed or not"),
                    "cause": CAUSE,
                },
            )
        ),
        "boards": _list(
            _object(
                "Board",
                "A distribution board with all that hangs below it.",
                {
                    "id": str,
                    "from": _said(str | None, "the board that feeds it; null for the supply"),
                    "state": State,
                    **_figures(figures.BOARD_FIGURES, figures.CABLE_FIGURES),
                    "phases": _list(
                        _object(
                            "LineCurrent",
                            "The current of one phase there.",
                            {"id": Phase, **_figures(figures.PHASE_FIGURES[:3])},
                        )
                    ),
                },
            )
        ),
        "circuits": _list(
            _object(
                "Circuit",
                "A mains circuit; one that has failed carries nothing.",
                {
                    "id": str,
                    "phase": Phases,
                    "state": State,
                    "board": _said(str | None, "null where it leaves from the supply"),
                    **_figures(figures.CIRCUIT_FIGURES, figures.CABLE_FIGURES, figures.MEASURED_FIGURES),
                },
            )
        ),
        "loads": _list(
            _object(
                "Load",
                "What else hangs on a circuit.",
                {"id": str, "circuit": CIRCUIT, "state": State, **_figures(figures.LOAD_FIGURES)},
            )
        ),
        "rcds": _list(
            _object(
                "Rcd",
                "A residual-current device.",
                {
                    "at": _said(str, "its board or circuit"),
                    "rating_a": _said(float, "Residual current, rated, A"),
                    "leakage_a": _said(float, "Standing leakage behind it, at most, A"),
                },
            )
        ),
        "racks": _list(_object("Rack", "A rack.", {"id": str, **_figures(figures.RACK_FIGURES)})),
        "lines": _list(
            _object(
                "Run",
                "One pole pair of a line at full power.",
                {
                    "id": _said(str, "the line"),
                    "near": _said(int, "pole pair at the near end, from 1"),
                    "far": _said(int, "pole pair at the far end, from 1"),
                    "channel": str,
                    **_figures(figures.RUN_FIGURES),
                },
            )
        ),
        "amplifiers": _list(
            _object(
                "Amplifier",
                "An amplifier as a load on the mains.",
                {"id": str, "circuit": CIRCUIT, **_figures(figures.AMPLIFIER_FIGURES)},
            )
        ),
        "phases": _list(
            _object("PhaseLoad", "A phase that is in use.", {"id": Phase, **_figures(figures.PHASE_FIGURES)})
        ),
        "supply": _object(
            "Supply",
            "The whole rig at the mains.",
            _figures(figures.SUPPLY_FIGURES, figures.INTAKE_FIGURES, figures.INRUSH_FIGURES)
            | {key: _said(None, "gone: see neutral_a") for key in GONE},
        ),
        "touch": _list(
            _object(
                "Touch",
                "A place where a channel's voltage stands on metal.",
                {
                    "at": str,
                    "contact": Contact,
                    "channel": _said(str, "the one with the highest voltage there"),
                    "voltage_v": _said(float, "V rms, worst case"),
                    "class": TouchClass,
                    "exposed": _said(bool, "whether a finger reaches it"),
                },
            )
        ),
    },
)

_CRITERIA = {
    "silent_weight": WEIGHT,
    "balance_db": _said(float, "largest change between left and right, dB"),
    "change_db": _said(float, "largest change of level at unchanged processor settings, dB"),
    "loss_db": _said(float, "largest loss of maximum level, dB"),
    "seconds_s": _said(float, "until the last section is back, in steps of the criteria, s"),
    "muted_weight_s": _said(float, "weight of what played and is muted meanwhile, times s"),
    "new_warns": _said(int, "warnings that were not there"),
    "spares": _said(int, "spares that it takes"),
    "racks": _said(int, "racks to go to"),
}
_LIST_S = _said(float, "what the list takes until the last section is back, s")
_MOVE = _object(
    "Move",
    "One thing that the crew does with its hands.",
    {
        "kind": RewiringKind,
        "place": str,
        "from": _said(str, "where or what it was; empty for nothing"),
        "to": _said(str, "where or what it is then; empty for nothing"),
        "by": _said(str, "the spare that it takes; empty for none"),
        "words": str,
    },
)
_STEP = _object(
    "Step",
    "A line of the list.",
    {
        "kind": StepKind,
        "where": _said(str, "where whoever does it stands"),
        "words": _said(str, "what to do"),
        "places": _list(str, "what it is done to"),
        "seconds_s": _said(float, "with the way there, s"),
        "quiet": _said(str, "what goes silent for it, and how long; empty for nothing"),
    },
)
_PLAN = _object(
    "Plan",
    "What to move, in which steps, and what it costs.",
    {
        "kinds": _list(str, "by what it brings sound back"),
        "shown_as": _list(Role, "what it is shown for"),
        **_CRITERIA,
        "list_s": _LIST_S,
        "full": _said(bool, "whether nothing is lost and no level changed"),
        "moves": _list(_MOVE, "in the order in which they can be made"),
        "silent": _list(str, "sections that stay silent"),
        "like_feed": _list(
            _object("Like", "A section that plays another feed than its own.", {"section": str, "feed": str})
        ),
        "changes": _list(
            _object(
                "Change",
                "By how much a section is louder, or quieter, at the same fader.",
                {"section": str, "change_db": DB},
            )
        ),
        "levels": _list(
            _object(
                "LevelLoss",
                "By how much the maximum level of a feed is lower.",
                {
                    "feed": str,
                    "section": _said(str, "where it is lowest"),
                    "loss_db": DB,
                    "sections": _said(int, "how many are lower"),
                },
            )
        ),
        "damping": _list(
            _object(
                "Damping",
                "A low section with a damping factor that falls.",
                {"section": str, "before": float, "after": float},
            )
        ),
        "limited_early": _list(str, "who is limited, or clips, early, in sentences"),
        "only_if": _list(str, "what of it nobody knows to reach"),
        "findings": _list(_object("Near", "A finding that was not there before the failure.", _FINDING)),
        "steps": _list(_STEP, "the list"),
    },
)

RECOVER = _report(
    "Recover",
    "What a failure silences, and the plans for it.",
    {
        "failed": NAMES,
        "lost": _list(str, "sections that are silent for it, what matters most first"),
        "proven": _said(bool, "whether no plan of the moves searched is better than the first"),
        "unsearched": _list(str, "moves that no plan is made of"),
        "plans": _list(_PLAN, "the best first"),
    },
)

REHEARSE = _report(
    "Rehearse",
    "Every failure with the best plan for it, and what would help before the show.",
    {
        "failures": _list(
            _object(
                "Failure",
                "What fails, and the best there is to do.",
                {
                    "id": _said(str, "what fails, joined by +"),
                    "kind": FailingKind,
                    "lost": _list(str, "sections that fall silent, what matters most first"),
                    "like": _list(str, "what is interchangeable with it"),
                    "silent_weight_before": WEIGHT,
                    **_CRITERIA,
                    "list_s": _LIST_S,
                    "kinds": _list(str, "by what the best plan brings sound back"),
                    "moves_made": _list(_MOVE),
                    "silent": _list(str, "sections that stay silent"),
                    "silent_for_good": _list(str, "cabinets of priority 1 of which a section stays silent"),
                    "proven": _said(bool, "whether no plan of the moves searched is better"),
                },
            ),
            "the worst first",
        ),
        "silent_for_good": _list(
            _object(
                "ForGood",
                "A cabinet of priority 1, and the failures that silence a section of it.",
                {"cabinet": str, "failures": NAMES},
            )
        ),
        "before_the_show": _list(
            _object(
                "Help",
                "What one thing done before the show would do.",
                {
                    "kind": HelpKind,
                    "what": _said(str | None, "the spare; null where things are exchanged"),
                    "rack": _said(str | None, "where a spare channel would be"),
                    "exchanged": _list(tuple[str, str], "what changes places"),
                    "helps": _list(str, "failures that it eases, the most eased first"),
                    "failures": _said(int, "how many, with what is interchangeable"),
                    "silent_weight_saved": _said(float, "summed over the failures"),
                    "balance_saved_db": _said(float, "dB, summed over the failures"),
                    "level_saved_db": _said(float, "dB, summed over the failures"),
                },
            ),
            "what helps most first",
        ),
    },
)

DIAGNOSE = _report(
    "Diagnose",
    "What may have failed, from what is heard.",
    {
        "caution": str,
        "marked_failed": NAMES,
        "heard": _list(_object("Answer", "What is heard of a place.", {"place": str, "heard": Word})),
        "found": _list(_object("Found", "What a test showed.", {"test": str, "outcome": str})),
        "nothing_new": _said(bool, "whether all is so with nothing more failed than is marked"),
        "pairs": _said(bool, "whether no single cause agrees, so that pairs were tried"),
        "doubtful": _list(str, "answers without any one of which a single cause agrees"),
        "causes": _list(
            _object(
                "Cause",
                "What may have failed: a thing, or two.",
                {
                    "names": _list(str, "as recover --failed takes them"),
                    "kinds": NAMES,
                    "heard": _list(Heard, "what may be heard of its sections"),
                    "share": SHARE,
                    "sections": _list(str, "those that it affects"),
                },
            ),
            "the likeliest first",
        ),
        "advice": _list(str, "what to do before anything is re-patched"),
        "next_test": _object(
            "NextTest",
            "The test that tells most for its time.",
            {
                "test": _said(str, "as --found takes it"),
                "words": str,
                "seconds_s": SECONDS,
                "bits": _said(float, "what it is expected to tell, bits"),
                "outcomes": _list(
                    _object(
                        "Outcome",
                        "What remains with one outcome.",
                        {"outcome": str, "words": str, "share": SHARE, "causes": NAMES},
                    )
                ),
            },
        )
        | None,
    },
)

_READING = _object(
    "Reading",
    "A reading that is kept.",
    {
        "as_read": _said(str, "as the meter showed it; empty where nothing is measured"),
        "measured_ohm": _said(float | None, "leads taken off, Ω; null where open or not measured"),
        "leads_ohm": OHM,
        "polarity": _said(Literal["yes", "no"] | None, "whether it is right; null where nobody tested"),
        "heard": _said(Literal["yes", "no"] | None, "whether the right drivers were heard"),
        "heard_from": _list(str, "cabinets"),
        "when": _said(str | None, "local time, as 2026-05-01 14:30"),
        "note": str,
        "sweep_points": int,
    },
)
METER = _report(
    "Meter",
    "What a meter should show on every pole pair, and what it showed.",
    {
        "caution": str,
        "progress": str,
        "notes": NAMES,
        "pairs": _list(
            _object(
                "Pair",
                "One pole pair of a line, measured at its near end.",
                {
                    "line": str,
                    "pair": _said(int, "at the near end, from 1"),
                    "from": str,
                    "to": str,
                    "cabinets": _list(str, "those that should be heard"),
                    "expected_open": bool,
                    "expected_ohm": _said(float | None, "Ω; null where it should be open"),
                    "lowest_ohm": _said(float | None, "the least it should show, Ω"),
                    "highest_ohm": _said(float | None, "the most it should show, Ω; null where open"),
                    "coil_degc": _said(float, "of the voice coils, °C"),
                    "reading": _READING | None,
                    "earlier": _said(_READING | None, "one of before the line was changed: no proof"),
                    "status": Status,
                    "verdict": _said(str, "empty where it is not tested"),
                    "wrong": NAMES,
                    "drift": _said(str, "empty where it has not"),
                    "proof": _said(str, "what is not proved, and how it would be; else empty"),
                    "caution": _said(str, "empty for none"),
                    "explanations": _list(
                        _object("Explanation", "A kind of fault that fits.", {"kind": Kind, "words": str}),
                        "the likeliest first",
                    ),
                    "next_test": str | None,
                },
            ),
            "as the crew walks",
        ),
    },
)

NIGHT = _report(
    "Night",
    "The night log.",
    {
        "events": _list(
            _object(
                "Event",
                "What happened. What is not stated is empty.",
                {
                    "time": _said(str, "local, as 2026-05-01T21:40:05"),
                    "by": _said(str, "initials"),
                    "event": str,
                    "place": str,
                    "words": str,
                    "report": _said(str, "name of a report of a console that follows"),
                    "list": _said(str, "the list that a step is reported of"),
                    "step": _said(int, "which step, from 0"),
                    "takes": _said(str, "which of the crew's times it is made of"),
                    "answers": _said(str, "the report that was taken over"),
                },
            ),
            "in order",
        )
    },
)

_KNOWN = _said(int | None, "how many are known; null where the file can't be read")
VENUES = _object(
    "Venues",
    "The venues, and the nights that are over.",
    {
        "format": Literal[REPORT_FORMAT],
        "venues": _list(
            _object(
                "Venue",
                "A venue file.",
                {
                    "name": _said(str, "as venue apply takes it"),
                    "from": Literal["shipped", "yours"],
                    "venue": str | None,
                    "rig": _said(str | None, "the rig that these facts are of"),
                    "circuits": _KNOWN,
                    "lines": _KNOWN,
                    "positions": _KNOWN,
                    "error": _said(str | None, "why it can't be read"),
                },
            )
        ),
        "nights": _list(
            _object(
                "Night",
                "A night that is over.",
                {
                    "date": str,
                    "venue": str,
                    "rig": str | None,
                    "notes": _said(str, "for next time"),
                    "log": _said(str, "path of its log"),
                    "rig_file": _said(str | None, "path of the rig as it was"),
                },
            ),
            "the last first",
        ),
    },
)

REPORTS = {
    "check": Report("rackwright check RIG --json", CHECK),
    "diagnose": Report("rackwright diagnose RIG --json", DIAGNOSE),
    "recover": Report("rackwright recover RIG --json", RECOVER),
    "rehearse": Report("rackwright rehearse RIG --json", REHEARSE),
    "night": Report("rackwright night RIG --json", NIGHT),
    "meter": Report("rackwright meter RIG --json", METER),
    "venue": Report("rackwright venue list --json", VENUES),
}
"""By the name that `schema` takes."""
