"""The README's pictures show the console as it is. Where they are stale: `python tests/screenshots.py`."""

import re
from pathlib import Path

import pytest

from screenshots import FOLDER, PAPERS, SHOTS, taken, text_in, text_of

README = Path(__file__).parents[1] / "README.md"


@pytest.fixture(autouse=True)
def own_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("RACKWRIGHT_HOME", str(tmp_path))
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.chdir(tmp_path)


@pytest.mark.parametrize("name", SHOTS)
async def test_a_picture_shows_what_the_console_shows(name: str) -> None:
    strips = await taken(SHOTS[name])
    assert text_in((FOLDER / f"{name}.svg").read_text("utf-8")) == text_of(strips), (
        "stale: run tests/screenshots.py"
    )


@pytest.mark.parametrize("name", PAPERS)
def test_a_picture_of_a_paper_is_as_it_is_drawn(name: str) -> None:
    assert (FOLDER / f"{name}.svg").read_text("utf-8") == PAPERS[name](), "stale: run tests/screenshots.py"


def test_every_picture_is_of_a_shot_and_in_the_readme() -> None:
    assert {file.stem for file in FOLDER.iterdir()} == {*SHOTS, *PAPERS}
    assert set(re.findall(r"\(screenshots/([\w-]+)\.svg\)", README.read_text("utf-8"))) == {*SHOTS, *PAPERS}
