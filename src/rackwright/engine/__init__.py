"""What a rig does: every figure and every judgement, as pure functions of a rig.

No input or output, and no text beyond a finding's message. A module per subject, each beside its section
of the physics: `conductor`, `amplifier`, `loudspeaker`, `network`, `protection`. `assess` puts them
together, `findings` judges, `workings` show how a figure came about.
"""
