"""What a rig does: every figure and every judgement, as pure functions of a rig.

No input or output, and no text beyond a finding's message. A module per subject, each beside its section
of the physics: `conductor`, `amplifier`, `loudspeaker`, `network`, `protection`. `assess` puts them
together, `findings` judges, `workings` show how a figure came about.

The examples in the docstrings take from the demo an amplifier, a vented sub's section, the hall and parts of it:

>>> import numpy as np
>>> from rackwright.engine.assess import assess
>>> from rackwright.store import library, presets, rig_file
>>> amp = library.built_in().amplifiers[0]
>>> hall = assess(rig_file.load(presets.shipped_folder() / "hall.toml", library.built_in()))
>>> index, branch, circuit = hall.index, hall.branches["A1.1"], hall.index.circuits["P1"]
>>> line, sub = index.lines["C1"], branch.models[0]
"""
