"""Moves on a rig that has been changed since they were found."""

import pytest
from msgspec.structs import replace

import rigs
from rackwright.engine.recovery import apply, possible_moves
from rackwright.engine.recovery.planner import task_of
from rackwright.model import edits
from rackwright.model.edits import EditError
from rackwright.model.places import ChannelPlace, PolePair

from .small import LINK

RIG = rigs.rig(
    rigs.amplifier("A1", "sub", "sub"),
    rigs.amplifier("A2", "sub", unit=3),
    rigs.socket("S1", "A1.1", "-A1.2"),
    rigs.socket("S2", "A2.1"),
    rigs.socket("S3", "A2.1"),
    rigs.line("L1", "S1", "C1"),
    rigs.line("L2", "S2", "C2"),
    rigs.cabinet("C1", "double", "split"),
    rigs.cabinet("C2", "woofer"),
    circuits=(rigs.CIRCUIT, replace(rigs.CIRCUIT, id="P2")),
    spares=(LINK,),
)


@pytest.fixture
def state():
    return task_of(RIG, ["A1.2"]).origin


MOVES = [
    (possible_moves.repatch, (PolePair("S1", 1), "A2.1"), "Re-patch pole pair 2 of S1 from -A1.2 to -A2.1."),
    (possible_moves.repatch, (PolePair("S2", 1), "A1.1"), "Re-patch pole pair 2 of S2 to A1.1."),
    (possible_moves.move_line, ("L1", "S3"), "Move L1 from socket S1 to socket S3."),
    (
        possible_moves.link,
        ("C1", "C2", "4x2.5 5 m"),
        "Link C1 on from C2 with a spare, 4x2.5 5 m, as LINK-1 instead of L1: check first that it reaches.",
    ),
    (possible_moves.give_feed, (ChannelPlace("A2", 1), "mid"), "Give A2.2 the feed mid."),
    (
        possible_moves.set_mode,
        (ChannelPlace("A2", 0), "bridged"),
        "Set A2.1 and the other of its pair to bridged instead of dual.",
    ),
    (possible_moves.mute, ("C2",), "Unplug C2: pull L2."),
]


@pytest.mark.parametrize(
    ("make", "words", "told"), MOVES, ids=[told.split()[0] + str(i) for i, (_, _, told) in enumerate(MOVES)]
)
class TestEach:
    def test_says_what_to_do(self, state, make, words, told):
        assert make(state, *words).words == told

    def test_is_taken_back_exactly(self, state, make, words, told):
        broken = state.task.index.rig
        move = make(state, *words)
        after = apply(broken, [move])
        assert after != broken
        assert apply(after, [move.undone()]) == broken
        assert move.undone().undone() == move

    def test_sounds_as_the_assessment_of_the_rig_says(self, state, make, words, told):
        from rackwright.engine.assess import assess

        move = make(state, *words)
        screened = state.after(move)
        told_of = assess(apply(state.task.index.rig, [move]))
        heard = {
            name: (section.voltage, told_of.channels[section.channel].feed)
            for name, section in told_of.sections.items()
            if section.channel is not None
        }
        for name, channels in screened.where.items():
            if channels:
                sounding = screened.heard[channels[0]]
                voltage, feed = heard.pop(name)
                assert sounding.voltages[name] == pytest.approx(voltage, rel=1e-12)
                assert sounding.feed == feed
        assert heard == {}


def test_what_was_changed_elsewhere_stays(state):
    move = possible_moves.repatch(state, PolePair("S1", 1), "A2.1")
    later = edits.change(state.task.index.rig, "S1", connector="eight")
    later = edits.change(later, "L1", length=rigs.Length.parse("30 m"))
    after = apply(later, [move])
    assert after.sockets()[0].connector == "eight"
    assert after.sockets()[0].poles == ("A1.1", "-A2.1")
    assert after.lines[0].length.text == "30 m"


def test_a_channel_that_failed_since_stays_failed_on_the_way_back(state):
    move = possible_moves.give_feed(state, ChannelPlace("A2", 1), "mid")
    after = edits.change(apply(state.task.index.rig, [move]), "A2.1", state="failed")
    back = apply(after, [move.undone()])
    assert [channel.state for channel in back.amplifiers()[1].channels] == ["failed", "ok"]
    assert back.amplifiers()[1].channels[1].feed == ""


def test_a_move_is_refused_where_what_it_moves_was_changed(state):
    move = possible_moves.repatch(state, PolePair("S1", 1), "A2.1")
    with pytest.raises(EditError, match="S1 has been changed since"):
        apply(edits.patch(RIG, "S1", 2, "A2.2"), [move])
    with pytest.raises(EditError, match="L2 is no longer there"):
        apply(edits.remove(RIG, "L2"), [possible_moves.move_line(state, "L2", "S3")])


def test_a_link_needs_a_cable_a_free_link_and_a_neighbour_of_the_rack(state):
    assert possible_moves.link(state, "C1", "C2", "4x2.5 6 m") is None
    once = state.after(possible_moves.link(state, "C1", "C2", LINK.id))
    assert possible_moves.link(once, "C2", "C1", LINK.id) is None, "no cable is left, and C1 hangs on C2"
    assert [spare.count for spare in once.spares.values()] == [0]


def test_a_sounding_channel_keeps_its_feed(state):
    assert possible_moves.give_feed(state, ChannelPlace("A1", 0), "mid") is None


def test_an_amplifier_with_a_sound_channel_is_not_replaced():
    rig = replace(RIG, spares=(LINK, rigs_spare := type(LINK)(amplifier="duo")))
    assert possible_moves.replace_amplifier(task_of(rig, ["A1.2"]).origin, "A1", rigs_spare.id) is None
    move = possible_moves.replace_amplifier(task_of(rig, ["A1"]).origin, "A1", rigs_spare.id)
    assert move.words == "Replace A1 by the spare duo, wired and set the same."
