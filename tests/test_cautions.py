"""Cautions: one source for every screen, command, plan and paper, and never faint."""

import re
from pathlib import Path

import pytest

from console.hand import opened
from rackwright.engine import cautions
from rackwright.papers.contents import sheets
from rackwright.papers.document import Words
from shipped import assessed

ROOT = Path(__file__).parents[1]
SENTENCES = [
    sentence
    for name, text in vars(cautions).items()
    if name.isupper()
    for sentence in re.split(r"(?<=\.) ", text)
]


def known(text: str) -> bool:
    """Whether a text is made of the engine's sentences alone."""
    return all(sentence in SENTENCES for sentence in re.split(r"(?<=\.) ", " ".join(text.split())))


def test_the_readme_s_cautions_are_the_engine_s() -> None:
    readme = (ROOT / "README.md").read_text("utf-8")
    quoted = re.findall(r"(?:^> .*\n)+", readme, re.MULTILINE)
    assert len(quoted) >= 2
    for block in quoted:
        assert known(block.replace("\n> ", " ").removeprefix("> ")), block


def test_the_papers_cautions_are_the_engine_s() -> None:
    told = [
        block.text
        for sheet in sheets(assessed("hall"), ())
        for block in sheet.blocks
        if isinstance(block, Words) and block.caution
    ]
    assert len(told) > 5
    assert all(map(known, told)), told


def test_no_other_module_words_a_caution() -> None:
    """Strings of the console, the commands and the papers that speak of what can hurt: only by name."""
    for package in ("console", "cli", "papers"):
        for file in (ROOT / "src/rackwright" / package).rglob("*.py"):
            for text in re.findall(r'(?<!")"([^"\n]{50,})"(?!")', file.read_text("utf-8")):
                assert not re.search(r"live output|licensed|can hurt|power \w* ?\w* ?down", text), (
                    file,
                    text,
                )


SCREENS = {
    "results": ([], cautions.PLANNING),
    "help": (["?", "end"], cautions.PLANNING),
    "findings": (["v"], cautions.PLANNING),
    "circuits": (["t", *"circuits", "enter"], cautions.PLANNING),
    "plans": (["/", "A9.1", "enter", "f", "f", "tab", "tab", "end"], cautions.PLANNING),
    "meter check": (["i"], cautions.METER),
}


@pytest.mark.parametrize("screen", SCREENS)
async def test_a_caution_is_never_faint(screen: str) -> None:
    """On the rendered cells: neither dim nor the grey that screens give to what matters less."""
    keys, caution = SCREENS[screen]
    async with opened(preset="hall", size=(150, 60)) as hand:
        await hand.press(*keys)
        words = set(re.findall(r"\w{6,}", caution))
        found = [
            (text, style)
            for strip in hand.strips()
            for text, style, _ in strip
            if len(words & set(re.findall(r"\w{6,}", text))) >= 3
        ]
        assert found, hand.text
        for text, style in found:
            assert style is None or not style.dim, text
            assert style is None or style.color is None or style.color.name != "bright_black", text
