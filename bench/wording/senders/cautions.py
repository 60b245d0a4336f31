"""What may hurt, by the code of the caution: read before anything is wired."""

from collections.abc import Mapping

_DEFER = "follow local codes and have the work done or checked by a qualified person"
CAUTIONS: Mapping[str, str] = {
    "pack is not safe to touch":
        "More than 60 V DC is not safe to touch (ISO 6469-3, voltage class B), and a pack's cells "
        "cannot be switched off: work on it only with the service disconnect out, insulated tools "
        "and gloves, and a fuse at the tap rated for the pack's DC voltage and short-circuit "
        f"current; {_DEFER}.",
    "pack is isolated from the car":
        "A traction pack is isolated from the car's body, and a USB lead ties the board's ground "
        "to the computer: read the pack only through an isolated converter or isolated USB whose "
        "working voltage (not its one-minute test voltage) is at least the pack's.",
    "input side stands at the pack's voltage":
        "The input side of an isolation amplifier is at the pack's voltage: never touch its parts, "
        "its own supply or its leads, and keep them apart from the output side by a barrier rated "
        "for more than the pack's voltage as working voltage (its test voltage does not count); "
        f"fuse both taps at the pack; {_DEFER}.",
    "shunt sits in the main lead":
        "A shunt sits in the pack's main lead: disconnect the pack before touching it, and fuse "
        f"the two thin wires at the shunt; {_DEFER}.",
    "main lead through the sensor":
        "Pass the main lead through the sensor with the pack disconnected; "
        f"{_DEFER}.",
    "sender in a fuel tank":
        "A sender in a fuel tank: open nothing at the tank, and connect nothing to its lead while "
        f"there may be vapour; {_DEFER}.",
    "charge port carries mains":
        "The charge port also carries mains: never open a plug or inlet that is connected, tap "
        f"only the two low-voltage lines, and never feed them; {_DEFER}.",
    "wheel driven off the ground":
        "A driven wheel off the ground: use stands made for the car, chock the others, keep "
        "everybody clear of the wheel, wear no loose sleeves; on the road a second person reads, "
        "the driver drives.",
}
