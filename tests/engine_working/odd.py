"""A rig file with one of everything that the presets lack: bridged and parallel pairs, a gauge, cores in parallel, a split,
crossed pole pairs, contacts that can be touched, a failed channel, an amplifier on no circuit. All of it is invented.
"""

RIG = """\
format = 1
name = "Odds and ends"

[supply]
voltage = "120 V"
frequency = "60 Hz"
rules = "us"
ambient = "86 F"
generator = "20 kVA"
generator_dip = 0.08

[targets]
programme_duty = 0.2
heavy_duty = 0.4

[[circuits]]
id = "P1"
breaker = "20 A"
curve = "D"
supply_cable = { length = "100 ft", size = "10 AWG" }

[[circuits]]
id = "P2"
breaker = "20 A"

[[circuits]]
id = "P3"
breaker = "30 A"
supply_cable = { length = "20 m", size = "3 mm2", class = "60 degC", laid = "drum" }

[[feeds]]
id = "sub"
band = ["30 Hz", "90 Hz"]

[[feeds]]
id = "full"
polarity = "inverted"

[[racks]]
id = "R1"
height = 12

[[racks.amplifiers]]
id = "A1"
model = "bare"
unit = 1
circuit = "P1"
mode = ["bridged", "parallel"]
channels = [ { feed = "sub" }, {}, { feed = "full" }, { feed = "full" } ]

[[racks.amplifiers]]
id = "A2"
model = "stated"
unit = 3
mode = "bridged"
channels = [ { feed = "sub" } ]

[[racks.amplifiers]]
id = "A3"
model = "stated"
unit = 5
circuit = "P3"
channels = [ { feed = "full", state = "failed" }, {} ]

[[racks.sockets]]
id = "S1"
connector = "bare-2"
poles = ["A1.1", "-A1.3"]

[[racks.sockets]]
id = "S2"
connector = "bare-2"
poles = ["A2.1", "A1.4"]

[[racks.sockets]]
id = "S3"
connector = "bare-2"
poles = ["A3.1", "A3.2"]

[[lines]]
id = "L1"
from = "S1"
to = "B1"
cable = "gauge"
length = "65 ft"
poles = [2, 1]

[[lines]]
id = "L2"
from = "B1"
to = "B2"
cable = "gauge"
length = "5 m"

[[lines]]
id = "L3"
from = "B2"
to = "B3"
cable = "gauge"
length = "5 m"

[[lines]]
id = "L4"
from = "S2"
to = "B4"
cable = "thick"
length = "30 m"
cores_per_pole = 2

[[lines]]
id = "L5"
from = "S2"
to = "B5"
cable = "thick"
length = "12 m"

[[lines]]
id = "L6"
from = "S3"
to = "B6"
cable = "thick"
length = "12 m"

[[cabinets]]
id = "B1"
model = "box"

[[cabinets]]
id = "B2"
model = "box"

[[cabinets]]
id = "B3"
model = "box"
wiring = "low only"

[[cabinets]]
id = "B4"
model = "box"
wiring = "low only"

[[cabinets]]
id = "B5"
model = "box"

[[cabinets]]
id = "B6"
model = "box"

[[cabinets]]
id = "B7"
model = "box"

[[equipment.amplifiers]]
id = "bare"
channels = 4
height = 2
ratings = [ { load = "2 ohm", power = "900 W" }, { load = "4 ohm", power = "800 W" }, { load = "8 ohm", power = "500 W" } ]
damping_factor = { value = 300, load = "8 ohm" }
gain = "32 dB"
idle_power = "60 W"
efficiency = 0.7
power_factor = 0.6
inrush = "40 A"
terminals = "exposed"
max_current = "30 A"
weight = "20 lb"

[[equipment.amplifiers]]
id = "stated"
channels = 2
height = 2
ratings = [ { load = "8 ohm", power = "1000 W" } ]
bridged = [ { load = "16 ohm", power = "1900 W" }, { load = "8 ohm", power = "2500 W" } ]
open_voltage = "95 V"
damping_factor = { value = 200, load = "8 ohm" }
gain = "26 dB"
idle_power = "100 W"
efficiency = 0.6
power_factor = 0.95
inrush = "70 A"
terminals = "shrouded"
max_current = "30 A"
weight = "18 kg"

[[equipment.loudspeakers]]
id = "box"
connector = "bare-2"
[[equipment.loudspeakers.sections]]
id = "low"
kind = "low"
nominal = "8 ohm"
dc_resistance = "5.4 ohm"
continuous = "400 W"
peak = "1500 W"
lowest = "28 Hz"
driver = { fs = "45 Hz", qms = 5, qes = 0.5, le = "1 mH", box = "sealed" }
[[equipment.loudspeakers.sections]]
id = "high"
kind = "high"
nominal = "16 ohm"
dc_resistance = "11 ohm"
continuous = "60 W"
lowest = "20 Hz"
[equipment.loudspeakers.wirings]
both = [["low"], ["high"]]
"low only" = [["low"]]

[[equipment.cables]]
id = "gauge"
cores = 4
size = "12 AWG"
max_current = "20 A"

[[equipment.cables]]
id = "thick"
cores = 4
size = "4 mm2"
max_current = "30 A"

[[equipment.connectors]]
id = "bare-2"
pole_pairs = 2
contact_resistance = "3 mohm"
max_current = "30 A"
shrouded = false
"""
