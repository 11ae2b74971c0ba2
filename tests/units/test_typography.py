"""Where signs are few they are spelled out, and that is decided by terminal, locale and RACKWRIGHT_ASCII."""

import io

import pytest

from rackwright.units.typography import alphabet, ascii_only, spelled


@pytest.mark.parametrize(
    ("text", "plain"),
    [
        ("2.5 mm² → 4 Ω", "2.5 mm2 -> 4 ohm"),
        ("P = V²/R · 2, 30 °C, 3.2 mΩ, √ΣT²", "P = V^2/R * 2, 30 degC, 3.2 mohm, sqrt sum T^2"),
        ("Müller", "Muller"),
        ("漢", "?"),
    ],
)
def test_signs_are_spelled_out(text: str, plain: str) -> None:
    assert spelled(text) == plain


def test_a_name_keeps_the_letters_that_the_encoding_has() -> None:
    assert spelled("Café 舞台 → 4 Ω", "utf-8") == "Café 舞台 -> 4 ohm"
    assert spelled("Café → 4 Ω", "iso8859-1") == "Café -> 4 ohm"
    assert spelled("Café → 4 Ω", "") == "Café → 4 Ω"


@pytest.mark.parametrize(
    ("environment", "plain"),
    [
        ({"LANG": "en_GB.UTF-8"}, False),
        ({"LANG": "en_GB.UTF-8", "RACKWRIGHT_ASCII": "1"}, True),
        ({"LANG": "en_GB.UTF-8", "LC_ALL": "C"}, True),
        ({"LANG": "de_DE.ISO-8859-1"}, True),
        ({"LC_CTYPE": "C.utf8", "LANG": "C"}, False),
        ({"LANG": "en_GB.UTF-8", "TERM": "linux"}, True),
    ],
)
def test_the_locale_decides(environment: dict[str, str], plain: bool) -> None:
    """LC_ALL goes before LC_CTYPE before LANG: POSIX, XBD chapter 8."""
    assert ascii_only(environment) == plain


def test_a_pipe_gets_the_signs_of_a_keyboard(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("RACKWRIGHT_ASCII", raising=False)
    monkeypatch.delenv("TERM", raising=False)
    pipe, terminal = (io.TextIOWrapper(io.BytesIO(), encoding="utf-8") for _ in range(2))
    monkeypatch.setattr(terminal, "isatty", lambda: True, raising=False)
    monkeypatch.setenv("LC_ALL", "C.UTF-8")
    assert (alphabet(pipe), alphabet(terminal)) == ("utf-8", "")
    monkeypatch.setenv("LC_ALL", "C")
    assert (alphabet(pipe), alphabet(terminal)) == ("ascii", "ascii")
