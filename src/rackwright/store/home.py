"""The folder where this program keeps what is the user's own: equipment, presets. Makes nothing in it."""

import os
from pathlib import Path

VARIABLE = "RACKWRIGHT_HOME"


class HomeError(OSError):
    """There is no telling where the user's folder is. The message says to a person what to do."""


def home() -> Path:
    """The user's folder: what RACKWRIGHT_HOME says, else the system's place for a program's data. Raises HomeError."""
    if named := os.environ.get(VARIABLE):
        try:
            return Path(named).expanduser()
        except RuntimeError:
            raise HomeError(
                f'{VARIABLE} is "{named}", and there is no such user. Name another folder, or unset it.'
            ) from None
    from platformdirs import user_data_path

    return user_data_path("rackwright", appauthor=False)
