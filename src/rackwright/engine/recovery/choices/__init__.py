"""What can be done for a failure, as a mixed-integer programme."""

from rackwright.engine.recovery.choices.choices import Choices, Promise

__all__ = ["Choices", "Promise"]
