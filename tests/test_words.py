"""The words that a technician in a hurry trips over are in no text that the program shows."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parents[1]
AVOIDED = re.compile(
    r"\b(mend(s|ed)?|reckon\w*|told|whose|bears?|amiss|anew|checklists?|heavy|takes? ((the|all) )?(answers? )?back"
    r"|make (it )?again|way back|figured|takes along|(held|stands?) against|line.?test|show.?lock"
    r"|touch-proof|of no use|take the rig|feed cables?|tightest|fullest|gravest"
    r"|runs? of|a run\b(?! of)|(enter|esc) (accepts|leaves|picks|takes)|no such sheet|(duo|quad)-\d+|locking-\d)\b",
    re.IGNORECASE,
)
KEYS = re.compile(r"[Cc]ircuit[ -]heavy[ -]overload|heavy_\w+|linetest|checklists|told\b(?=[\"'])")
"""What carries such a word and stays: codes, keys of files, a command's old name."""


def texts(module: Path) -> Iterator[str]:
    """Every text of a module that may be shown: sentences and labels, not docstrings (those of attributes included)."""
    nodes = list(ast.walk(ast.parse(module.read_text())))
    silent = {id(node.value) for node in nodes if isinstance(node, ast.Expr)}
    for node in nodes:
        value = node.value if isinstance(node, ast.Constant) else None
        if isinstance(value, str) and id(node) not in silent and (" " in value or value[:1].isupper()):
            yield value


def test_a_rule_of_thumb_is_marked_in_one_spelling() -> None:
    other = re.compile(
        r"common practi[cs]e(?!, no source)|(?<!practice, )no source(?! impedance| resistance)|rule of thumb",
        re.I,
    )
    folders = (ROOT / "src", ROOT / "tests", ROOT / "presets")
    files = [
        ROOT / "README.md",
        *(each for top in folders for kind in ("py", "toml") for each in top.rglob(f"*.{kind}")),
    ]
    read = [(path.name, " ".join(path.read_text().split())) for path in files if path != Path(__file__)]
    assert not [(name, found.group()) for name, text in read if (found := other.search(text))]


def avoided(text: str) -> list[str]:
    return [match.group() for match in AVOIDED.finditer(KEYS.sub("", text))]


def test_no_text_of_the_program_has_a_word_to_avoid() -> None:
    modules = (ROOT / "src").rglob("*.py")
    assert not [(path.name, text) for path in modules for text in texts(path) if avoided(text)]


def test_no_screen_preset_or_page_has_one() -> None:
    files = [*(ROOT / "tests/console_snapshots/kept").rglob("*.txt"), *(ROOT / "presets").rglob("*.toml")]
    files += [*ROOT.glob("*.md"), *(ROOT / "src").rglob("*.toml")]
    assert not [(path.name, found) for path in files if (found := avoided(path.read_text()))]
