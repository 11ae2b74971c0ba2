"""Every single fault of every preset made and asked back: by every section, and from one answer through each next test.

Each as it silences or distorts, then as it only makes quiet, humming or distorted, where the table has that of it. Then pairs
of faults by chance, where no single one agrees, through each next test.

Prints how many were made and what went wrong, and ends with status 1 where that is anything. With the name of a preset,
that one only.
"""

import random
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from engine_diagnosis.asking import Crew, every_fault, followed
from rackwright.engine.assess import assess
from rackwright.engine.diagnosis import Table, diagnose
from rackwright.store import presets
from rackwright.store.rig_file import load

PAIRS = 20
"""Of each preset."""
EVERY = 200
"""Faults after which it says how far it is."""


def asked_back(name: str, table: Table, dice: random.Random) -> list[str]:
    """What goes wrong with the faults of a preset."""
    before = assess(table.rig)
    wrong, made = [], sorted(every_fault(table.rig))
    soft = {(cause.name, cause.heard) for cause in table.causes if cause.heard != "silent"}
    soft -= {(fault, "distorted") for fault in made if fault.endswith("=distorted")}
    tried = [*((fault, "") for fault in made), *sorted(soft)]
    for number, (fault, how) in enumerate(tried, start=1):
        if number % EVERY == 0:
            print(f"{name}: {number} of {len(tried)}, {len(wrong)} wrong", flush=True)
        crew = Crew(before, [fault], dice, how)
        answers = crew.answers_all()
        if (fault,) not in {suspect.names for suspect in diagnose(table, answers).suspects}:  # type: ignore[arg-type]
            wrong.append(f"{fault} {how} is not among the causes of what it does")
        faulty = sorted(place for place, heard in answers.items() if heard != "plays")
        if faulty:
            place = dice.choice(faulty)
            wrong += followed(table, crew, {place: answers[place]})
    for _ in range(PAIRS):
        crew = Crew(before, dice.sample(made, 2), dice)
        answers = crew.answers_all()
        if diagnose(table, answers).paired:  # type: ignore[arg-type]
            wrong += followed(table, crew, answers)
    print(f"{name}: {len(made)} faults, {len(soft)} soft ones, {PAIRS} pairs, {len(wrong)} wrong")
    return wrong


def main(asked: list[str]) -> int:
    wrong = []
    for preset in presets.listed():
        if asked and preset.name not in asked:
            continue
        start = time.perf_counter()
        table = Table(load(preset.path))
        print(f"{preset.name}: {len(table.causes)} causes in {time.perf_counter() - start:.2f} s")
        wrong += asked_back(preset.name, table, random.Random(preset.name))
    for told in wrong:
        print(told)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
