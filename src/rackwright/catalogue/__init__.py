"""The invented demo equipment that ships with the program, as TOML.

Holds the text alone; the store decodes it. Describes no real make or model.
"""

from pathlib import Path


def text() -> str:
    """The demo equipment: TOML with the tables amplifiers, loudspeakers, cables and connectors."""
    return Path(__file__).with_name("equipment.toml").read_text(encoding="utf-8")
