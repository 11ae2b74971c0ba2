"""What all tests share: how hypothesis is run, frames that a test itself sets off, style sheets that are read once.

No deadline, since no test asserts a time; the same examples every run, so that a green commit stays green.
`RACKWRIGHT_EXAMPLES=1000` runs that many fresh random ones instead, where a test names no number itself.
"""

import functools
import gc
import os
from typing import Any

import pytest
from hypothesis import HealthCheck, settings

# With a frame a second what waits for one to be drawn shows: nothing on a screen may depend on when that is.
os.environ["TEXTUAL_FPS"] = "1"

from textual.css.model import RuleSet
from textual.css.stylesheet import Stylesheet

EXAMPLES = os.environ.get("RACKWRIGHT_EXAMPLES")

settings.register_profile(
    "quick", deadline=None, max_examples=10, derandomize=True, suppress_health_check=list(HealthCheck)
)
settings.register_profile(
    "thorough", settings.get_profile("quick"), max_examples=int(EXAMPLES or 1000), derandomize=False
)
settings.load_profile("thorough" if EXAMPLES else "quick")


@pytest.fixture(autouse=True, scope="session")
def style_sheets_read_once() -> None:
    """Reading the sheets is most of an app's start: apps that give them the same variables share what was read."""
    read = Stylesheet._parse_rules

    @functools.cache
    def rules(variables: tuple[tuple[str, str], ...], *source: Any) -> list[RuleSet]:
        return read(Stylesheet(variables=dict(variables)), *source)

    def shared(
        self: Stylesheet,
        css: str,
        read_from: Any,
        is_default_rules: bool = False,
        tie_breaker: int = 0,
        scope: str = "",
    ) -> list[RuleSet]:
        return rules(tuple(self._variables.items()), css, read_from, is_default_rules, tie_breaker, scope)

    Stylesheet._parse_rules = shared  # type: ignore[method-assign]


gc.disable()  # while modules are read, which stay


def pytest_collection_finish() -> None:
    """Spare the search for unreachable cycles what all of the tests have imported, and have it seldom: it took a tenth of the time."""
    gc.freeze()
    gc.enable()
    gc.set_threshold(50_000, 20, 20)
