"""The same folders and settings as the console's other tests."""

from console.conftest import own_home

__all__ = ["own_home"]
