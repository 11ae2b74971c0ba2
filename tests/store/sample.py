"""A small rig file that carries its equipment, with one of nearly everything. All of it is invented."""

import re

EQUIPMENT = """\
[[amplifiers]]
id = "two"
channels = 2
height = 2
ratings = [ { load = "8 ohm", power = "500 W" }, { load = "4 ohm", power = "900 W" } ]
damping_factor = { value = 300, load = "8 ohm" }
gain = "32 dB"
idle_power = "60 W"
efficiency = 0.8
power_factor = 0.9
inrush = "40 A"
terminals = "exposed"
max_current = "30 A"
weight = "9 kg"

[[loudspeakers]]
id = "box"
connector = "plug"
[[loudspeakers.sections]]
id = "upper"
kind = "low"
nominal = "8 ohm"
dc_resistance = "5.4 ohm"
continuous = "400 W"
lowest = "30 Hz"
driver = { fs = "34 Hz", qms = 6.5, qes = 0.4, le = "1 mH", box = "vented", alpha = 1.1, fb = "36 Hz" }
[[loudspeakers.sections]]
id = "lower"
kind = "low"
nominal = "8 ohm"
dc_resistance = "5.4 ohm"
continuous = "400 W"
lowest = "30 Hz"
highest = "200 Hz"
[loudspeakers.wirings]
split = [["upper"], ["lower"]]
joined = [["upper", "lower"]]

[[cables]]
id = "flex-4x2.5"
cores = 4
size = "2.5 mm2"
max_current = "25 A"

[[connectors]]
id = "plug"
pole_pairs = 2
contact_resistance = "2 mohm"
max_current = "30 A"
shrouded = true
"""

RIG = """\
format = 1
name = "Boat house"
notes = \"\"\"
Two lines,
[[lines]] in a text is none.\"\"\"

[supply]
voltage = "230 V"
rules = "iec"

[targets]
damping_factor = 20
cable_loss = "0.5 dB"

[[circuits]]
id = "P1"
phase = "L1"
breaker = "16 A"
supply_cable = { length = "30 m", size = "2.5 mm2" }

[[feeds]]
id = "sub"
band = ["32 Hz", "90 Hz"]
polarity = "normal"

[[racks]]
id = "R1"
height = 12

[[racks.amplifiers]]
id = "A1"
model = "two"
unit = 3
circuit = "P1"
mode = "dual"
channels = [
  { feed = "sub" },
  { feed = "sub", state = "failed" },
]

[[racks.amplifiers]]
id = "A2"
model = "two"
unit = 5
mode = ["bridged"]

[[racks.sockets]]
id = "S1"
connector = "plug"
poles = ["A1.1", "A1.2"]

[[lines]]
id = "L1"
from = "S1"
to = "C1"
cable = "flex-4x2.5"
length = "20 m"

[[lines]]
id = "L2"
from = "C1"
to = "C2"
cable = "flex-4x2.5"
length = "80 ft"
poles = [2, 1]

[[cabinets]]
id = "C1"
model = "box"
wiring = "split"
priority = 1

[[cabinets]]
id = "C2"
model = "box"
wiring = "joined"
"""

CARRIED = re.sub(r"^(\[+)", r"\1equipment.", EQUIPMENT, flags=re.MULTILINE)
WHOLE = f"{RIG}\n{CARRIED}"


def changed(old: str, new: str, text: str = WHOLE) -> str:
    """The sample with one thing changed, which must stand in it."""
    assert old in text
    return text.replace(old, new, 1)


def line_with(part: str, text: str) -> int:
    """The number of the first line that holds `part`."""
    return next(n for n, line in enumerate(text.split("\n"), 1) if part in line)
