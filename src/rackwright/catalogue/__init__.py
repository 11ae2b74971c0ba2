"""The invented demo equipment that ships with the program, as TOML.

Holds the text alone; the store decodes it. Describes no real make or model.
"""

from importlib import resources


def text() -> str:
    """The demo equipment: TOML with the tables amplifiers, loudspeakers, cables and connectors."""
    return resources.files(__name__).joinpath("equipment.toml").read_text(encoding="utf-8")
