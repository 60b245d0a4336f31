"""What must be so before a board is connected, and before the car is logged: said alike everywhere.

The usual cautions of the trade (common practice, no source, but for ISO 6469-3: above 60 V DC is
not safe to touch); local codes and licensed practice come before them.
"""

BENCH = (
    "Driven wheels clear of the ground, the others chocked, if the pedal is still in the car.",
    "Traction supply open, and verified open by someone qualified to do it.",
    "The pedal is fed by the board's own 5 V, or by a bench supply with a current limit; never by "
    "the car.",
    "Pack voltage never goes into the board; no input above the board's own supply.",
    "The laptop runs on its battery: its charger's ground must not meet the car's.",
    "Local codes and licensed practice come first. This program only reads.",
)
CAR = (
    "Driven wheels clear of the ground on stands, the others chocked; nobody before or behind the "
    "car. A wrong rest reading can move it by itself, and chocks do not hold a driven wheel.",
    "Someone stands at the disconnect, does nothing else, and can open it at once. It was proved: "
    "opened under a lightly spinning wheel, the wheel ran down.",
    "The log only reads. It cannot stop the car: the disconnect can.",
    "Pack voltage never goes into the board: with the disconnect open and the capacitors "
    "discharged, ohms showed that the pedal is not tied to the pack (a voltmeter cannot). Sense "
    "leads are fused at the tap, for the pack's DC voltage.",
    "No plug is pulled and no wire moved while the key is on: key off, change it, key on. A lost "
    "pedal ground drives a rising track to full.",
    "A board without power pulls at the tracks: keep it powered, and take it off before you drive.",
    "The laptop runs on its battery, the board on an isolated link whose working voltage is the "
    "pack's or more.",
    "Above 60 V DC nothing is safe to touch (ISO 6469-3): that work belongs to trained people. "
    "Local codes and licensed practice come first.",
)
# Before the first drive; on every sheet that carries values away.
PROVE = (
    "Prove every value with the driven wheels off the ground, the others chocked, nobody before or "
    "behind the car and somebody at the battery disconnect, before the first drive")
