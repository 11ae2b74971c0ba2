"""What a finding advises, where it names a command: the keys that do it in the console."""

from rackwright.engine.finding import IN_ORDER, PLANS, WHERE, WHICH

_BY_KEYS = {
    WHICH: "M, then m, moves one",
    WHERE: "the plans (R) show where they can go",
    IN_ORDER: "in the order of the list that M, then o, opens",
    PLANS: "Press R for plans",
}


def by_keys(advice: str) -> str:
    """The advice with keys for commands."""
    for command, keys in _BY_KEYS.items():
        advice = advice.replace(command, keys)
    return advice
