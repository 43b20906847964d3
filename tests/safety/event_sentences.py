"""Sentences as technicians write them, each with the events that it tells to bring about.

An event is the ignition switched on, the engine started, or the machine moved on its wheels (rolled,
ridden, taken off its stand). Verbs and names are the trade's: common practice, no source.

HELD_OUT was written before the detector had any rule or word for events, and has not been
changed since.
"""

from __future__ import annotations

from typing import Final

HELD_OUT: Final[tuple[tuple[str, str], ...]] = (
    # the ignition
    ("Turn the ignition on and listen for the pump.", "ignition-on"),
    ("Key on. Count the flashes of the lamp.", "ignition-on"),
    ("Switch on the ignition and wait for the self-test.", "ignition-on"),
    ("Turn the key to the on position without pulling the clutch.", "ignition-on"),
    ("Put the key in and turn it on.", "ignition-on"),
    (
        "Flip the kill switch to run, turn the ignition switch to on, and read the code.",
        "ignition-on",
    ),
    ("With the ignition on, measure the voltage at the horn.", "ignition-on"),
    ("Cycle the key three times so that the pump fills the line.", "ignition-on"),
    ("Ignition on, wait two seconds, ignition off.", "ignition-on"),
    # the engine
    ("Start the engine.", "engine-start"),
    ("Crank the engine for five seconds with the plugs out.", "engine-start"),
    ("Thumb the starter until it catches.", "engine-start"),
    ("Fire it up and let it idle for a minute.", "engine-start"),
    ("Press the starter button and listen to the first seconds.", "engine-start"),
    ("Let the engine run until the fan cuts in.", "engine-start"),
    ("Warm the motor up to working temperature, then shut it off.", "engine-start"),
    ("With the engine idling, turn the bar from stop to stop.", "engine-start"),
    ("Do not touch the exhaust; start the bike and check for leaks.", "engine-start"),
    ("Rev the engine to three thousand and watch the charging voltage.", "engine-start"),
    ("Hit the start button once.", "engine-start"),
    # the machine moved
    ("Roll the machine off the lift.", "machine-moved"),
    ("Push it out.", "machine-moved"),
    ("Lower it off the stand and wheel it out.", "machine-moved"),
    ("Push the bike back into its bay.", "machine-moved"),
    ("Ride the machine around the block and listen to the fork.", "machine-moved"),
    ("Take it for a short test ride.", "machine-moved"),
    (
        "Loosen the straps. Together with the second person, walk the motorcycle down the ramp.",
        "machine-moved",
    ),
    ("The machine is rolled forward one wheel turn.", "machine-moved"),
    ("Roll it backward half a meter to free the chock.", "machine-moved"),
    ("Take the bike off the paddock stand and lean it on the side stand.", "machine-moved"),
    # none
    ("Do not start the engine.", ""),
    ("Move the throttle through its travel without starting the engine.", ""),
    ("Top the oil up before the engine is started.", ""),
    ("The ignition stays off.", ""),
    ("Turn the ignition off.", ""),
    ("Check the starter relay cover.", ""),
    ("Start the nut by hand.", ""),
    ("Roll the cable over the frame tube.", ""),
    ("Start the thread two turns with the fingers.", ""),
    ("Turn the key off and hang it on the board.", ""),
    ("Leave the rolling road for the next job.", ""),
    ("Key off. Take the seat off.", ""),
    ("Never turn the key on while the connector is off.", ""),
    ("Turn the adjuster until the mark shows, then lock it with the hex key.", ""),
    ("Wipe the ignition switch housing.", ""),
    ("Push the cover home until it clicks on.", ""),
    ("Turn the crank by hand until the mark lines up.", ""),
    ("Roll the rubber boot back over the lever.", ""),
    ("Strap the machine down on both sides and rock it.", ""),
    ("Wait until the engine is cold.", ""),
    ("Turn the rear wheel by hand and look at the chain.", ""),
    ("Drain the engine oil into the pan.", ""),
    ("Lift the engine cover off its dowels and push the pin out.", ""),
    ("Make sure nobody can roll the machine off the lift.", ""),
    ("Ask the owner how the machine rides.", ""),
    ("Tighten the engine mount until it starts to bind.", ""),
    ("Check that the engine stop switch is set to off.", ""),
    ("Press the circlip in and push it down to its groove.", ""),
    ("Roll the creeper under the machine.", ""),
    ("Unplug the starter button connector and the ignition coil.", ""),
)
