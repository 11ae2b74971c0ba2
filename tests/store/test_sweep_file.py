"""Impedance sweeps as measuring programs and spreadsheets write them."""

from pathlib import Path

import pytest

from rackwright.store.sweep_file import SweepError, read_sweep

POINTS = [(20.0 * 1.3**n, 6.0 + n, -10.5) for n in range(15)]


def written(path: Path, between: str, comma: bool = False, head: str = "", encoding: str = "utf-8") -> Path:
    rows = [between.join(f"{figure:.4f}" for figure in point) for point in POINTS]
    text = head + "\n".join(rows)
    path.write_text(text.replace(".", ",") if comma else text, encoding=encoding)
    return path


@pytest.mark.parametrize(
    ("between", "comma", "head"),
    [
        (" ", False, ""), ("\t", False, "* remark\nFreq(Hz)\tZ(Ohm)\tPhase(deg)\n"), (",", False, "Frequency,Impedance,Phase\n"),
        (";", True, "Frequenz;Impedanz;Phase\n"), ("   ", True, "# one\n\n"), (", ", False, '"a b", c, d\n'),
    ],
)  # fmt: skip
def test_every_form_is_read(tmp_path: Path, between: str, comma: bool, head: str) -> None:
    found = read_sweep(written(tmp_path / "a.txt", between, comma, head))
    assert [pytest.approx(point, rel=1e-4) for point in POINTS] == list(found)


def test_utf_16_and_a_falling_order_are_read(tmp_path: Path) -> None:
    path = written(tmp_path / "a.txt", "\t", encoding="utf-16")
    assert len(read_sweep(path)) == len(POINTS)
    lines = path.read_text(encoding="utf-16").splitlines()
    path.write_text("\n".join(reversed(lines)))
    assert read_sweep(path)[0][0] == 20.0


def test_what_is_finer_than_is_of_use_is_thinned(tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    path.write_text("\n".join(f"{20 * 1.0005**n:.6f} 6 0" for n in range(10_000)))
    found = read_sweep(path)
    assert 300 < len(found) < 400  # 7.2 octaves of 48
    assert (found[0][0], found[-1][0]) == (20.0, pytest.approx(20 * 1.0005**9999))


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (lambda rows: rows[:3], "has 3 rows of figures"),
        (
            lambda rows: ["", *rows[:5], "100 six 0", *rows[5:]],
            'line 7: "100 six 0" is not frequency, ohms and degrees',
        ),
        (lambda rows: [*rows, "100 6"], "line 16"),
        (lambda rows: [*rows, "100 -6 0"], "is no impedance"),
        (lambda rows: [*rows, rows[3]], "two rows for"),
        (lambda rows: [], "has 0 rows of figures"),
    ],
)
def test_what_is_no_sweep_is_told_with_its_line(tmp_path: Path, change, told: str) -> None:
    rows = written(tmp_path / "a.txt", " ").read_text().splitlines()
    (tmp_path / "b.txt").write_text("\n".join(change(rows)))
    with pytest.raises(SweepError, match=told):
        read_sweep(tmp_path / "b.txt")


def test_a_file_that_is_not_there_is_told(tmp_path: Path) -> None:
    with pytest.raises(SweepError, match="can't be read"):
        read_sweep(tmp_path / "none.txt")
