"""Sentences as technicians write them, each with the hazards whose work it describes.

The names of parts and the verbs are the trade's; which of them are hazard work follows the
table of hazard states (what opens a hazard). Common practice, no source.

HELD_OUT was written before the detector had any rule or word, and has not been changed since.
"""

from __future__ import annotations

from typing import Final

HELD_OUT: Final[tuple[tuple[str, str], ...]] = (
    # work
    ("Unbolt the earth lead from the battery and tuck it out of the way.", "battery"),
    ("Slip the black cable off the negative terminal.", "battery"),
    ("Pull the main fuse and put it in your pocket.", "battery"),
    ("Connect the battery charger and leave it at two amperes.", "battery"),
    ("Clamp the jump leads to the posts, red first.", "battery"),
    ("The battery comes out next: tip it toward you and lift.", "battery"),
    ("Reattach the ground strap to the engine case.", "battery"),
    ("Prop the tank up on a block of wood.", "fuel"),
    ("Crack the fuel union open slowly and catch what runs out.", "fuel"),
    ("Siphon the petrol into a closed can.", "fuel"),
    ("Slide the hose clamp back and ease the fuel hose off its spigot.", "fuel"),
    ("Swap the fuel filter.", "fuel"),
    ("Undo the drain screw of the carburetor float bowl.", "fuel"),
    ("Refit the injector rail with new O-rings.", "fuel"),
    ("Unbolt the caliper and hang it from the spring with a hook.", "brake"),
    ("Spread the pads and seat the pistons in their bores.", "brake"),
    ("Open the nipple half a turn while the helper holds the lever in.", "brake"),
    ("With the caliper off, see how much lining the pads have left.", "brake"),
    ("Top up the reservoir with fresh DOT 4.", "brake"),
    ("The hydraulic hose at the lever end: slacken it, then spin it out by hand.", "brake"),
    # none
    ("Keep the work lamp away from the battery.", ""),
    ("Slide the tray cover over the battery until the tabs click.", ""),
    ("Read the voltmeter on the dash with the engine off.", ""),
    ("Remove the seat so that the battery can be seen.", ""),
    ("Do not take the negative cable off yet.", ""),
    ("Check that the terminals are tight.", ""),
    ("Route the new wire past the battery box.", ""),
    ("Remove the tank pad without lifting the tank.", ""),
    ("Unplug the fuel gauge from the dash loom.", ""),
    ("Look along the fuel hose for cracks.", ""),
    ("Wipe the tank with a soft cloth.", ""),
    ("Lay a blanket over the tank to guard the paint.", ""),
    ("Loosen the mirror stem, leaving the brake reservoir upright.", ""),
    ("Remove the front wheel spacer without disturbing the caliper.", ""),
    ("Unplug the brake light switch.", ""),
    ("Check the brake hose for chafing at the fork.", ""),
    ("Tighten the screw behind the master cylinder.", ""),
    ("Never open the bleed nipple with the reservoir dry.", ""),
    ("Squeeze the front brake lever and roll the machine back.", ""),
    ("Remove the bolts that hold the expansion tank.", ""),
)
