"""The README's first five minutes, pressed as it says, on the smallest screen it promises."""

import re
from pathlib import Path

import pytest

from .hand import opened

ROW = re.compile(r"^\| ((?:`[^`]+`|\*[^*]+\*| )+) \| [^|]+ \| ([^|]+) \|$", re.M)


async def test_the_first_five_minutes_go_as_the_readme_says(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    readme = (Path(__file__).parents[2] / "README.md").read_text("utf-8")
    rows = ROW.findall(readme.partition("The first five minutes")[2].partition("\n\nThree panes")[0])
    assert len(rows) > 8
    async with opened(size=(80, 24)) as hand:
        for keys, said in rows:
            for key, typed in re.findall(r"`([^`]+)`|\*([^*]+)\*", keys):
                await (hand.type(typed) if typed else hand.press({"esc": "escape"}.get(key, key)))
            assert said in hand.words, (keys, hand.text)
    assert (tmp_path / "first-papers" / "all.pdf").exists()
