"""What must be so before a board is connected, and before the car is logged."""

BENCH = (
    "Wheels clear of the ground or chocked, if the pedal is still in the car.",
    "Traction supply open, and verified open by someone qualified to do it.",
    "The pedal is fed from the board or a bench supply only, never from the car.",
    "Pack voltage never goes into the board; no input above the board's own supply.",
    "The laptop runs on its battery: its charger's ground must not meet the car's.",
    "Local codes and licensed practice come first. This program only reads.",
)
CAR = (
    "Driven wheels clear of the ground, the others chocked; nobody in front of or behind the car.",
    "Someone stands at the disconnect and can open it at once.",
    "The log only reads. It cannot stop the car: the disconnect can.",
    "Pack voltage never goes into the board; sense leads are fused at the source.",
    "The laptop runs on its battery, or is isolated from the car's ground.",
    "Local codes and licensed practice come first.",
)
