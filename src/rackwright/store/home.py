"""The folder where this program keeps what is the user's own: equipment, presets. Makes nothing in it."""

import os
from pathlib import Path

VARIABLE = "RACKWRIGHT_HOME"


def home() -> Path:
    """The user's folder: what RACKWRIGHT_HOME says, else the system's place for a program's data."""
    if named := os.environ.get(VARIABLE):
        return Path(named).expanduser()
    from platformdirs import user_data_path

    return user_data_path("rackwright", appauthor=False)
