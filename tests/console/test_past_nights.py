"""A night that is over, as the console tells it."""

from rackwright.console.rows.nights import of_night
from rackwright.store.night_log import Event
from shipped import preset


def test_what_happened_says_each_day_once_and_no_word_twice() -> None:
    events = [
        Event(time="2026-05-01T23:59:10", by="", event="failed", place="A1.1"),
        Event(time="2026-05-01T23:59:40", by="SM", event="plan", place="A1.1", words="A1.1: share a channel"),
        Event(time="2026-05-02T00:10:00", by="SM", event="return", place="A1.1", words="Return: A1.1"),
    ]
    told = dict(of_night("", events, preset("hall")))["What happened"]
    assert [" ".join(line.split()) for line in told] == [
        "2026-05-01",
        "23:59:10 failed: A1.1",
        "23:59:40 SM plan: A1.1: share a channel",
        "2026-05-02",
        "00:10:00 SM return: A1.1",
    ]
