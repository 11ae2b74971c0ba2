"""Text from a terminal taken apart: whatever it is and in whatever pieces it comes, only whole units come of it."""

from hypothesis import given
from hypothesis import strategies as st
from textual.events import Key, MouseEvent, Paste
from textual.message import Message

from rackwright.console.terminal.input import LONGEST, Messages, Units

SIZE = (80, 24)

odd = st.one_of(
    st.text(st.characters(), max_size=6),
    st.text("\x1b[]O?<>;:0123456789MmuRtc~ABPX_^\\\x07\x9b ", max_size=12),
    st.sampled_from(["\x1b[200~", "\x1b[201~", "\x1b[<", "\x1b]0;", "\x1b\\", "\x1b[M", "\0", "\ud800"]),
    st.builds("\x1b[{};{}{}".format, st.integers(), st.integers(0, 10**30), st.sampled_from("~uMmARtcyq")),
)
texts = st.lists(odd, max_size=8).map("".join)


def messages(pieces: list[str]) -> list[Message]:
    units, known = Units(), Messages()
    whole = [unit for piece in pieces for unit in units.feed(piece)]
    whole += [units.end_paste()] if units.pasting else list(units.give_up())
    return [message for unit in whole for message in known.of(unit, *SIZE)]


def told(found: list[Message]) -> list[object]:
    return [m.key if isinstance(m, Key) else m.text if isinstance(m, Paste) else type(m) for m in found]


@given(texts)
def test_only_what_a_person_can_have_done_comes_of_anything(text: str) -> None:
    for message in messages([text]):
        match message:
            case Key(character=sign):
                assert sign is None or len(sign) == 1
                (sign or "").encode()
            case Paste(text=pasted):
                assert "\x1b" not in pasted
                pasted.encode()
            case MouseEvent():
                assert 0 <= message.x < SIZE[0]
                assert 0 <= message.y < SIZE[1]


@given(texts, st.data())
def test_in_any_pieces_it_is_the_same(text: str, data: st.DataObject) -> None:
    cuts = sorted(data.draw(st.lists(st.integers(0, len(text)), max_size=6)))
    pieces = [text[a:b] for a, b in zip([0, *cuts], [*cuts, len(text)], strict=True)]
    assert told(messages(pieces)) == told(messages([text]))


def test_keys_are_what_they_are() -> None:
    sent = "a\x1b[A\x1bOB\x1b[Z\x1b[3~\x1b[1;5C\r\t\x7f\x01ü\x1b[97u\x1b[[A\x1bt\x1b"
    names = ["a", "up", "down", "shift+tab", "delete", "ctrl+right", "enter", "tab", "backspace", "ctrl+a"]
    assert told(messages([sent])) == [*names, "ü", "a", "f1", "escape", "t", "escape"]


def test_what_never_ends_is_not_kept() -> None:
    units = Units()
    for _ in range(100):
        assert list(units.feed("\x1b[" + "9" * LONGEST)) == []
        assert len(units._rest) <= LONGEST
    assert told(messages(["\x1b[" + "9" * 3 * LONGEST, "9~q", "\x1b]" + "9" * 3 * LONGEST, "\x07q"])) == [
        "q",
        "q",
    ]
