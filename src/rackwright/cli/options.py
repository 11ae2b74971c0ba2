"""Values of options that several commands have."""

import click

from rackwright.units import QuantityError, Temperature


def coil_temperature(text: str | None) -> Temperature | None:
    """What is stated with `--coil`. Raises click.BadParameter."""
    if text is None:
        return None
    try:
        return Temperature.parse(text)
    except QuantityError as error:
        raise click.BadParameter(str(error), param_hint="--coil") from None
