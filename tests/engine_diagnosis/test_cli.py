"""The command `diagnose`: what it prints, and its exit status."""

import json

import pytest

from rackwright.cli.run import run
from rackwright.engine import cautions
from rackwright.store.home import VARIABLE


@pytest.fixture(autouse=True)
def own_home(tmp_path, monkeypatch):
    monkeypatch.setenv(VARIABLE, str(tmp_path / "home"))


def test_it_tells_the_caution_first_then_causes_and_the_next_test(capsys):
    assert run(["diagnose", "small-room", "--heard", "TOP-R1.high=quiet", "--heard", "SUB-R1=plays"]) == 0
    out = capsys.readouterr().out
    assert out.startswith(cautions.SMOKE)
    assert out.index("C4/2") < out.index("TOP-R1.high=distorted") < out.index("A2.4 ")
    assert "Next test, 6 s" in out
    assert '--heard "top-low=plays"' in out


def test_it_reports_as_json(capsys):
    heard = ["--heard", "TOP-R1.high=silent", "--heard", "TOP-R1.low=plays", "--heard", "TOP-L1=plays"]
    assert run(["diagnose", "small-room", *heard, "--found", "lights A2.4=protect", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["format"] == 1
    assert {cause["names"][0] for cause in told["causes"]} == {"A2.4", "TOP-R1.high=shorted"}
    assert told["found"] == [{"test": "lights A2.4", "outcome": "protect"}]
    assert told["next_test"]["test"] == "unplug C4"
    assert sum(each["share"] for each in told["next_test"]["outcomes"]) == pytest.approx(1)


def test_that_no_cause_agrees_is_said_and_a_status_of_its_own(capsys):
    heard = ["SUB-L1=silent", "SUB-R1.left=humming", "TOP-L1.low=distorted", "TOP-R1.high=quiet"]
    words = [word for each in heard for word in ("--heard", each)]
    assert run(["diagnose", "small-room", *words]) == 1
    assert "No single cause and no pair of causes agrees" in capsys.readouterr().out


def test_an_answer_that_stands_alone_against_a_single_cause_is_named(capsys):
    heard = ["TOP-R1.high=silent", "TOP-R1.low=plays", "SUB-L1.left=silent"]
    assert run(["diagnose", "small-room", *[word for each in heard for word in ("--heard", each)]]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "No single cause agrees with all of this" in out
    assert (
        "A single cause agrees without TOP-R1.high or without TOP-R1.low or without SUB-L1.left: look again."
        in out
    )


def test_nothing_wrong_to_hear_is_no_list_of_everything(capsys):
    assert run(["diagnose", "small-room", "--heard", "SUB-R1=plays"]) == 0
    out = capsys.readouterr().out
    assert "with nothing more failed than is marked" in out
    assert "Next test" not in out


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ([], "--heard TOP-R1.high=quiet"),
        (["--heard", "TOP-R1.hig=quiet"], 'Did you mean "TOP-R1.high"?'),
        (["--heard", "TOP-R1=silent", "--heard", "TOP-R1=plays"], "both silent and plays of TOP-R1"),
        (["--heard", "TOP-R1=silent", "--found", "lights A1.1=green"], "dark, protect, no signal, signal"),
    ],
)
def test_bad_words_are_refused_with_what_was_expected(capsys, words, says):
    assert run(["diagnose", "small-room", *words]) == 64
    assert says in capsys.readouterr().err
