"""What the console loads once its first screen stands."""

import gc
import sys

from rackwright.console import run


async def test_all_that_keys_ask_for_is_loaded_and_the_search_is_on_again() -> None:
    gc.disable()
    threshold = gc.get_threshold()
    try:
        await run.load_later()
        assert gc.isenabled()
        assert {f"rackwright.console.{name}" for name in run.LATER} <= set(sys.modules)
    finally:
        gc.unfreeze()
        gc.set_threshold(*threshold)
        gc.enable()
