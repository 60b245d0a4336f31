"""What may hurt, by the code of the caution: read before anything is wired."""

from collections.abc import Mapping

_DEFER = "follow local codes and have the work done or checked by a qualified person"
CAUTIONS: Mapping[str, str] = {
    "pack is not safe to touch":
        "More than 60 V DC is not safe to touch (ISO 6469-3, voltage class B) and a pack cannot be "
        "switched off at its cells: work on it only with the service disconnect out, insulated "
        "tools and gloves, and a fuse at the tap made for the pack's DC voltage and short-circuit "
        f"current; {_DEFER}.",
    "pack is isolated from the car":
        "A traction pack is isolated from the car's body, and a USB lead joins the board's ground "
        "to the computer: read it only through an isolated converter or isolated USB whose working "
        "voltage (not its one-minute test voltage) is the pack's or more.",
    "input side stands at the pack's voltage":
        "The input side of an isolation amplifier stands at the pack's voltage: its parts, its own "
        "supply and its leads are touched by nobody and kept apart from the output side by a "
        "barrier that is rated for more than the pack's voltage as working voltage (a test voltage "
        f"says nothing of that); fuse both taps at the pack; {_DEFER}.",
    "shunt sits in the main lead":
        "A shunt sits in the pack's main lead: disconnect the pack before touching it, and fuse "
        f"the two thin wires at the shunt; {_DEFER}.",
    "main lead through the sensor":
        "Pass the main lead through the sensor with the pack disconnected; "
        f"{_DEFER}.",
    "sender in a fuel tank":
        "A sender in a fuel tank: nothing is opened at the tank, and nothing is joined to its lead "
        "while vapour may be about; follow local codes and have it done or checked by a qualified "
        "person.",
    "charge port carries mains":
        "The charge port also carries mains: open no plug or inlet that is connected, take only "
        f"the two low-voltage lines, and never feed them; {_DEFER}.",
    "wheel driven off the ground":
        "A driven wheel off the ground: stands made for the car, chocks, nobody near the wheel, no "
        "loose sleeves; on the road a second person reads, the driver drives.",
}
