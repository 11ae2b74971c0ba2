"""The sentences that keep people whole, each written once: every screen, command, plan and paper takes them from here.

Holds words only. Which work takes an amplifier powered down is decided by `touch`.
"""

PLANNING = "Figures are for planning: local codes and a licensed electrician decide."
"""Stands wherever mains figures or touch voltages are shown."""

SMOKE = "Smoke, smell, hot plug: switch off before any plan."
"""Above everything while something has failed."""

POWER_DOWN = "Touch no live output: power the amplifier down before plugging, unplugging or patching."
IN_STEPS = f"{POWER_DOWN[:-1]}, unless the steps mute it or turn it down first; in the wet always."
"""Above steps, which have an amplifier muted only where that is enough in the dry."""
MUTING = (
    "Muting is enough only to move a shrouded connector with contacts of class ES1 or ES2 (120 V at most), in the dry, where "
    "no two contacts within one hand's reach add up to a higher class."
)
LOOSE_ENDS = (
    "While its amplifier is on, a lead unplugged at the cabinet is live at its end, and a plug may short while it mates: "
    "leave no exposed ends."
)
REPATCHING = f"{POWER_DOWN} {MUTING} {LOOSE_ENDS}"
"""For whoever moves a plug or a patch."""

JOINED = "Joining two outputs destroys both."
BRIDGED = "Both contacts of a bridged or full-bridge output are live to earth: join neither to earth, nor to another output."
METER = (
    "Switch amplifiers off and unplug the line from them before a meter touches it: an output can hurt, and can destroy "
    "the meter."
)
PROVE = "Check every line with a meter before switching its amplifier on."
TESTED = (
    "Tests are for a licensed electrician, by the local code: RCD, earth and polarity of each outlet, and the voltage "
    "before anything is plugged in."
)
GENERATOR = (
    "A generator feeds a fault with little, and with less after a fraction of a second: rely on RCDs, and let an electrician "
    "measure loops and check its earthing while it runs."
)
"""Common practice, no source: fault currents here are those of a stiff source behind the stated impedance."""
HOT_LIMITERS = "After a short outage wait a minute: hot inrush limiters don't limit."
"""Common practice, no source."""
BREAKER = "Find out why a breaker tripped before anyone resets it."
FOLLOWING = f"{MUTING} {LOOSE_ENDS} {BREAKER} {PLANNING}"
"""For whoever follows a plan, under its steps, where IN_STEPS stands above them."""
RECOVERING = f"{POWER_DOWN} {FOLLOWING}"
"""For whoever follows a plan."""

MAINS_LEAD = (
    "How far a mains lead reaches is not known here: look before you move it, and power the amplifier down before "
    "unplugging it."
)
