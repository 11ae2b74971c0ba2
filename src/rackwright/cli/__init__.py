"""The `rackwright` command. Thin: opens what is asked for, calls the engine, prints.

Nothing heavy is imported until a command needs it.
"""

from rackwright.cli.main import main

__all__ = ["main"]
