"""Rackwright: build amplifier racks, wire them to loudspeakers, and see at once what the wiring does."""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
"""A start of numpy without threads that nothing here has work for takes 0.06 s less."""

__version__ = "0.1.0"
