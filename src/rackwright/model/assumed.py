"""Figures of an equipment entry that nobody knows: what each is taken to be, and how they are said.

Which there are, and what each is taken to be, stands in `fields`. An entry holds the figure itself, and its name under
`assumed`. Judges nothing: what rests on them is for the engine.
"""

import functools
from collections.abc import Collection, Mapping
from typing import Any

from msgspec import Struct, structs

from rackwright.model.equipment import AmplifierModel
from rackwright.model.fields import Field, fields
from rackwright.units.wording import listed

_COUNTED = {"channel": "channels", "unit": "height"}
"""What a figure may be for one of → the field that counts them."""


@functools.cache
def assumable(kind: type[Struct]) -> tuple[Field, ...]:
    """The fields of a kind of thing that may be assumed."""
    return tuple(field for field in fields(kind) if field.assumed)


def assumption(field: Field, known: Mapping[str, Any]) -> str:
    """What a figure is taken to be, as it is typed, given what is known of the entry.

    >>> gain, idle, *_ = assumable(AmplifierModel)
    >>> assumption(gain, {}), assumption(idle, {"channels": 4})
    ('32 dB', '200 W')
    """
    figure, _, each = field.assumed.partition("/")
    count = known.get(_COUNTED.get(each, ""))
    if not isinstance(count, int) or not 1 <= count <= 64:
        return figure
    number, _, unit = figure.partition(" ")
    return f"{float(number) * count:g} {unit}"


def completed(
    kind: type[Struct], given: Mapping[str, Any], kept: Mapping[str, Any] | None = None
) -> dict[str, Any]:
    """What is given of an entry, with the figures that are missing and may be assumed, and all that are assumed by name.

    A figure that is `kept` was assumed of it before.
    """
    missing = {field.name: field for field in assumable(kind) if given.get(field.name) is None}
    figures = {
        name: (kept or {}).get(name) or _value(field, assumption(field, given))
        for name, field in missing.items()
    }
    named = {*missing, *given.get("assumed", ())}
    names = tuple(field.name for field in assumable(kind) if field.name in named)
    return {**given, **figures, **({"assumed": names} if names else {})}


def unusual(entry: Struct) -> dict[str, Any]:
    """The figures that are assumed of an entry and are not what they are taken to be here, by name."""
    has = structs.asdict(entry)
    return {
        field.name: has[field.name]
        for field in assumable(type(entry))
        if field.name in has["assumed"] and has[field.name] != _value(field, assumption(field, has))
    }


def _value(field: Field, text: str) -> Any:
    return float(text) if field.kind is float else field.kind.parse(text)


def said(model: AmplifierModel, names: Collection[str] = ()) -> str:
    """The figures of a model that are assumed: `gain 32 dB and idle power 100 W`, of those `names` where any is given."""
    return listed(
        [
            f"{field.key.replace('_', ' ')} {getattr(model, field.name)}"
            for field in assumable(AmplifierModel)
            if field.name in model.assumed and (not names or field.name in names)
        ]
    )
