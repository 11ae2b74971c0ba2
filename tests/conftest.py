"""What all tests share: how hypothesis is run.

No deadline, since no test asserts a time; the same examples every run, so that a green commit stays green.
`RACKWRIGHT_EXAMPLES=1000` runs that many fresh random ones instead, where a test names no number itself.
"""

import os

from hypothesis import HealthCheck, settings

EXAMPLES = os.environ.get("RACKWRIGHT_EXAMPLES")

settings.register_profile(
    "quick", deadline=None, max_examples=20, derandomize=True, suppress_health_check=[HealthCheck.too_slow]
)
settings.register_profile(
    "thorough",
    deadline=None,
    max_examples=int(EXAMPLES or 1000),
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("thorough" if EXAMPLES else "quick")
