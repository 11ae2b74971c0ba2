"""What all tests share: how hypothesis is run, frames that a test itself sets off, what `quick` does but once.

No deadline, since no test asserts a time; the same examples every run, so that a green commit stays green.
`RACKWRIGHT_EXAMPLES=1000` runs that many fresh random ones instead, where a test names no number itself.
"""

import gc
import os

from hypothesis import HealthCheck, settings
from hypothesis.internal.conjecture import providers

# With a frame a second what waits for one to be drawn shows: nothing on a screen may depend on when that is.
os.environ["TEXTUAL_FPS"] = "1"

import quick

EXAMPLES = os.environ.get("RACKWRIGHT_EXAMPLES")

settings.register_profile(
    "quick", deadline=None, max_examples=10, derandomize=True, suppress_health_check=list(HealthCheck)
)
settings.register_profile(
    "thorough", settings.get_profile("quick"), max_examples=int(EXAMPLES or 1000), derandomize=False
)
settings.load_profile("thorough" if EXAMPLES else "quick")
if not EXAMPLES:  # so few examples need no constants out of all the code, which change with every commit and are slow to read
    providers._get_local_constants = lambda: providers._local_constants

quick.read_toml_once()
quick.quicken_the_toolkit()

gc.disable()  # while modules are read, which stay


def pytest_collection_finish() -> None:
    """Spare the search for unreachable cycles what all of the tests have imported, and have it seldom: it took a tenth of the time."""
    gc.freeze()
    gc.enable()
    gc.set_threshold(50_000, 20, 20)
