"""What is sent instead of a frame shows the same on a terminal (pyte, an emulator by others), in fewer bytes."""

import pyte
from hypothesis import given
from hypothesis import strategies as st

from rackwright.console.terminal.screen_diff import Painting

WIDTH, HEIGHT = 24, 6

looks = st.sampled_from(
    ["", "1", "31", "1;31", "7", "90;49", "39;49", "4;36", "38;5;208", "48;2;9;8;7", "7;90", "2;3;32"]
)
words = st.one_of(
    st.text(st.sampled_from("ab  ─│┃Ω█…·é"), min_size=1, max_size=12),
    st.integers(6, 20).map(lambda cells: " " * cells),
)
wide = st.sampled_from(["漢字", "a漢", "🎸", "e\u0301tude"])


@st.composite
def pieces(draw: st.DrawFn, text: st.SearchStrategy[str] = words) -> str:
    """Text somewhere on the screen that ends before its edge, as the toolkit paints it."""
    shown = draw(text)
    y, x = (
        draw(st.integers(1, HEIGHT)),
        draw(
            st.integers(
                1, WIDTH - 2 * len(shown) if len(shown) < 10 else WIDTH - 20 if shown.isspace() else 1
            )
        ),
    )
    look = draw(looks)
    return f"\x1b[{y};{x}H" + (f"\x1b[{look}m{shown}\x1b[0m" if look else shown)


frames = st.lists(st.lists(pieces(), min_size=1, max_size=8).map("".join), min_size=1, max_size=8)


def screen_after(sent: list[str]) -> pyte.Screen:
    screen = pyte.Screen(WIDTH, HEIGHT)
    stream = pyte.Stream(screen)
    for part in sent:
        stream.feed(part)
    return screen


def seen(screen: pyte.Screen) -> list[list[tuple[object, ...]]]:
    """Every cell as an eye sees it: of a blank only what shows without a sign."""
    return [[_cell(screen.buffer[y][x]) for x in range(WIDTH)] for y in range(HEIGHT)]


def _cell(cell: pyte.screens.Char) -> tuple[object, ...]:
    if cell.data == " ":
        shown = cell.reverse or cell.underscore or cell.strikethrough
        return (" ", cell.bg, cell.fg if shown else "", cell.reverse, cell.underscore, cell.strikethrough)
    return tuple(cell)


@given(frames)
def test_the_same_stands_on_the_screen(sent: list[str]) -> None:
    painting = Painting(WIDTH, HEIGHT)
    spared = [painting.less(frame) for frame in sent]
    assert seen(screen_after(spared)) == seen(screen_after(sent))


@given(
    st.lists(st.lists(pieces(wide), min_size=1, max_size=2).map("".join), min_size=1, max_size=3, unique=True)
)
def test_signs_of_other_widths_stay_whole(sent: list[str]) -> None:
    """Each frame on a cleared screen: where such signs overlap, terminals differ."""
    painting = Painting(WIDTH, HEIGHT)
    blank = "".join(f"\x1b[{y};1H{' ' * WIDTH}" for y in range(1, HEIGHT + 1))
    for frame in sent:
        painting.forget()  # the cursor of a screen that is new is at home
        spared = painting.less(blank) + painting.less(frame)
        shown = [line.replace(" ", "") for line in screen_after([spared]).display]
        if frame.count("H") == 1:
            assert shown == [line.replace(" ", "") for line in screen_after([frame]).display]


@given(frames)
def test_a_frame_that_stands_there_already_costs_nothing(sent: list[str]) -> None:
    painting = Painting(WIDTH, HEIGHT)
    for frame in sent:
        painting.less(frame)
    assert painting.less(sent[-1]) == ""


@given(frames)
def test_after_the_screen_was_lost_the_next_frame_brings_all_of_it_back(sent: list[str]) -> None:
    painting = Painting(WIDTH, HEIGHT)
    for frame in sent:
        painting.less(frame)
    painting.forget()
    again = painting.less(sent[-1])
    assert seen(screen_after([again])) == seen(screen_after(sent))


def test_only_what_changed_is_sent() -> None:
    painting = Painting(80, 24)
    line = "\x1b[5;1H\x1b[90m│\x1b[0m  Length \x1b[1m{}\x1b[0m  \x1b[90m│\x1b[0m"
    painting.less(line.format("10 m"))
    sent = painting.less(line.format("12 m"))
    assert "2" in sent
    assert len(sent) < 20


def test_what_goes_is_erased_in_fewer_bytes_than_it_took() -> None:
    painting = Painting(80, 24)
    painting.less(f"\x1b[5;1H│{'word ' * 15}  │")
    assert len(painting.less(f"\x1b[5;1H│{' ' * 77}│")) < 20


@given(st.lists(st.booleans(), min_size=HEIGHT, max_size=HEIGHT))
def test_rows_that_empty_leave_the_others_as_they_are(emptied: list[bool]) -> None:
    """At the head, at the foot, between others, or all."""
    painting = Painting(WIDTH, HEIGHT)
    full = "".join(f"\x1b[{y};1H\x1b[7mrow {y}\x1b[0m" + "─" * (WIDTH - 5) for y in range(1, HEIGHT + 1))
    bare = "".join(f"\x1b[{y};1H{' ' * WIDTH}" for y, empty in enumerate(emptied, 1) if empty)
    spared = [painting.less(frame) for frame in (full, bare, full)]
    assert seen(screen_after(spared[:2])) == seen(screen_after([full, bare]))
    assert seen(screen_after(spared)) == seen(screen_after([full]))


def test_a_row_of_words_apart_that_empties_is_erased_at_one_go() -> None:
    painting = Painting(80, 24)
    painting.less(f"\x1b[5;1H│ Length{' ' * 30}10 m{' ' * 20}sub │")
    assert len(painting.less(f"\x1b[5;1H│{' ' * 65}│")) < 20


def test_a_screen_that_empties_but_for_a_box_is_erased_in_few_bytes() -> None:
    painting = Painting(80, 24)
    painting.less("".join(f"\x1b[{y};1H{'word ' * 16}" for y in range(1, 25)))
    blank = "".join(f"\x1b[{y};1H{' ' * 80}" for y in range(1, 25) if y != 12)
    assert len(painting.less(f"{blank}\x1b[12;1H{' ' * 30}Are you sure?{' ' * 37}")) < 80


def test_a_scroll_bar_beside_rows_that_change_costs_little() -> None:
    painting = Painting(80, 24)
    rows = [f"\x1b[{y};1H{{}} \x1b[1m{{}}\x1b[0m{' ' * 60}{{}}" for y in range(2, 22)]
    painting.less("".join(row.format("Length", "10 m", "\x1b[90m│\x1b[0m") for row in rows))
    without = painting.less("".join(row.format("Weight", "10 m", "\x1b[90m│\x1b[0m") for row in rows))
    sent = painting.less("".join(row.format("Length", "10 m", "\x1b[7;90m \x1b[0m") for row in rows))
    assert len(sent.encode()) - len(without.encode()) < 4 * len(rows)


def test_the_cursor_is_left_where_the_frame_leaves_it() -> None:
    """A screen reader and an input method look there."""
    painting = Painting(80, 24)
    sent = painting.less("\x1b[5;1Hword\x1b[3;7H")
    screen = pyte.Screen(80, 24)
    pyte.Stream(screen).feed(sent)
    assert (screen.cursor.y, screen.cursor.x) == (2, 6)


def test_what_is_no_frame_goes_through_as_it_is() -> None:
    painting = Painting(80, 24)
    for told in ("\x1b[?25l", "\x1b[?2026$p", "\x1b[>1u", "\a", "\x1b]52;c;YQ==\a"):
        assert painting.less(told) == told


def test_another_screen_or_size_begins_anew() -> None:
    painting = Painting(80, 24)
    frame = "\x1b[1;1Hword"
    full = painting.less(frame)
    assert painting.less("\x1b[?1049h") == "\x1b[?1049h"
    assert painting.less(frame) == full
    painting.resize(60, 20)
    assert painting.less(frame) == full
