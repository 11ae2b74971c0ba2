"""American wire gauge: the definition of ASTM B258 and the gauges on either side of an area.

Holds geometry only; what a conductor's resistance is lives in the engine.
"""

import math

LARGEST, SMALLEST = -3, 24
"""Gauges accepted: 4/0 (counted as −3) to 24."""


def gauge_diameter(gauge: int) -> float:
    """Diameter in metres of a solid conductor of `gauge`.

    d = 0.127 mm · 92^((36 − n)/39), n being −1, −2, −3 for 2/0, 3/0, 4/0.
    Source: ASTM B258.
    """
    return 0.127e-3 * math.pow(92, (36 - gauge) / 39)


def gauge_area(gauge: int) -> float:
    """Area in square metres of a solid conductor of `gauge`. Source: ASTM B258."""
    return math.pi / 4 * gauge_diameter(gauge) ** 2


def gauge_name(gauge: int) -> str:
    """How a gauge is written: `12 AWG`, `1/0 AWG`."""
    return f"{gauge} AWG" if gauge > 0 else f"{1 - gauge}/0 AWG"


def neighbours(area: float) -> tuple[int, int]:
    """The two accepted gauges between which `area` (square metres) lies, the thinner first.

    The same gauge twice where the area is that gauge's (within 0.5 %); at either end of the range the
    outermost gauge twice.
    """
    exact = 36 - 39 * math.log(math.sqrt(area * 4 / math.pi) / 0.127e-3, 92)
    nearest = round(exact)
    if abs(gauge_area(nearest) / area - 1) < 0.005:
        thinner = thicker = nearest
    else:
        thinner, thicker = math.ceil(exact), math.floor(exact)
    return (min(max(thinner, LARGEST), SMALLEST), min(max(thicker, LARGEST), SMALLEST))
