"""Rackwright: build amplifier racks, wire them to loudspeakers, and see at once what the wiring does."""

__version__ = "0.1.0"
