"""How a figure came about: formula, numbers put in, result, source, step by step.

Each step's result is computed by the very functions that the assessment uses, from the results of the
steps before it; the last step's is the reported figure. Holds no judgement, and no formula that is not shown.
"""

from rackwright.engine.workings.places import Place, explain, known_places, places
from rackwright.engine.workings.steps import NoWorkingError, Step, Working

__all__ = ["NoWorkingError", "Place", "Step", "Working", "explain", "known_places", "places"]
