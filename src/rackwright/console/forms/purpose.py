"""What a loudspeaker model is for, by the words that its id and name say."""

import re

from rackwright.model.equipment import EquipmentEntry, LoudspeakerModel
from rackwright.model.lines import Role

_ROLES: dict[str, Role] = {"wedge": "monitor", "monitor": "monitor", "fill": "fill", "delay": "delay"}
"""Words by which a model says what it is for."""
_CALLED = {"sub": "SUB", "top": "TOP", "wedge": "MON", "monitor": "MON", "fill": "FILL", "delay": "DELAY"}
"""What cabinets are called of models that say these words (common practice, no source)."""


def role_of(model: LoudspeakerModel) -> Role:
    """What a model is for, where its id or name says so."""
    return next((_ROLES[word] for word in _said(model) if word in _ROLES), "audience")


def called(model: LoudspeakerModel) -> str:
    """What the ids of its cabinets begin with."""
    return next((_CALLED[word] for word in _said(model) if word in _CALLED), "CAB")


def searched(entry: EquipmentEntry) -> str:
    """Words that find an entry, beside its id and what is told of it."""
    return f"{role_of(entry)} {called(entry)}" if isinstance(entry, LoudspeakerModel) else ""


def _said(model: LoudspeakerModel) -> list[str]:
    return re.findall("[a-z]+", f"{model.id} {model.name}".lower())
