"""Make the drawings of docs/wiring/, and look at them.

    python docs/make_drawings.py             write them
    python docs/make_drawings.py --png DIR   also as pictures, to look at

Every value in them stands once, in VALUES; tests/house/test_wiring_page.py holds them against the
network solver and against the page.
"""

import sys
from collections.abc import Callable
from pathlib import Path

from drawing_kit import Drawing, as_png

PLACE = Path(__file__).parent / "wiring"
VALUES = {
    "bench series": "1 kΩ", "bench capacitor": "100 nF",
    "3.3 V top": "47 kΩ", "3.3 V bottom": "68 kΩ", "3.3 V capacitor": "47 nF",
    "bench supply top": "22 kΩ", "bench supply bottom": "68 kΩ", "bench supply capacitor": "100 nF",
    "car top": "100 kΩ", "car bottom": "330 kΩ", "12 V bottom": "33 kΩ", "car capacitor": "33 nF",
    "pull-up": "4.7 kΩ",
}


def read(d: Drawing, x: float, y: float, pin: float, values: tuple[str, str, str]) -> None:
    """Draw what stands before one input: series resistor, resistor to 0 V, capacitor.

    values: of the three by name in VALUES; "" leaves the resistor to 0 V out.
    """
    top, bottom, capacitor = values
    d.part(x, y, x + 66, VALUES[top])
    d.wire((x + 66, y), (pin, y))
    at = x + 88
    if bottom:
        d.dot(at, y)
        d.down(at, y, VALUES[bottom], y + 46)
        d.ground(at, y + 46)
        at += 84
    d.dot(at, y)
    d.capacitor(at, y, VALUES[capacitor], y + 46)
    d.ground(at, y + 46)


def filtered(d: Drawing, x: float, y: float, pin: float) -> None:
    """Draw series resistor and capacitor of the bench before an input that is fed by a pull-up."""
    d.part(x, y, x + 66, VALUES["bench series"])
    d.wire((x + 66, y), (pin, y))
    d.dot(x + 100, y)
    d.capacitor(x + 100, y, VALUES["bench capacitor"], y + 46)
    d.ground(x + 100, y + 46)


def pedal(d: Drawing, wipers: tuple[float, float], top: float, bottom: float) -> None:
    """Draw a pedal of two tracks, wipers at these heights; its 5 V at top, its 0 V at bottom."""
    d.box(20, 30, 190, bottom + 20 - 30, "pedal")
    for x, middle, name in ((80, wipers[0], "a"), (150, wipers[1], "b")):
        d.wire((x, top), (x, middle - 42))
        d.wire((x, middle + 42), (x, bottom))
        d.track(x, middle - 42, middle + 42, name)
    d.wire((99, wipers[0]), (135, wipers[0]))
    d.wire((165, wipers[0]), (210, wipers[0]))
    # The wiper of a crosses the track of b above it.
    d.wire((135, wipers[0]), (165, wipers[0]))
    d.wire((169, wipers[1]), (210, wipers[1]))
    d.wire((80, top), (210, top))
    d.wire((80, bottom), (210, bottom))
    d.dot(150, top)
    d.dot(150, bottom)
    for y in (top, wipers[0], wipers[1], bottom):
        d.pin(210, y, "")


def sensors(d: Drawing, outputs: tuple[float, float], top: float, bottom: float) -> None:
    """Draw a pedal of two Hall sensors, outputs at these heights; its 5 V at top, 0 V at bottom."""
    d.box(20, 30, 190, bottom + 20 - 30, "pedal")
    for x, middle, name in ((62, outputs[0], "a"), (128, outputs[1], "b")):
        d.wire((x + 22, top), (x + 22, middle - 24))
        d.wire((x + 22, middle + 24), (x + 22, bottom))
        d.parts.append(f"<rect class='c' x='{x}' y='{middle - 24:g}' width='44' height='48'/>")
        d.text(x + 22, middle + 5, name, anchor="middle")
        d.wire((x + 44, middle), (210, middle))
    d.wire((84, top), (210, top))
    d.wire((84, bottom), (210, bottom))
    d.dot(150, top)
    d.dot(150, bottom)
    for y in (top, *outputs, bottom):
        d.pin(210, y, "")


def bench(title: str, board: str, values: tuple[str, str, str], supply: str,
          notes: tuple[str, str], made_of: Callable[..., None] = pedal) -> str:
    """Return a drawing of a pedal on the bench; supply: "" feeds it from the board's own 5 V.

    made_of: draws what is in the pedal.
    """
    width = 800 if values[1] else 720
    d = Drawing(width, 510, title)
    edge = width - 170
    top, a, b, third, bottom = 76, 150, 246, 342, 420
    made_of(d, (a, b), top, bottom)
    d.box(edge, 30, 150, 410, board)
    if supply:
        d.box(edge - 260, 22, 200, 74, "bench supply")
        d.text(edge - 160, 64, "5 V, limit 50 mA", anchor="middle")
        d.text(edge - 160, 84, "0 V joins the board's", anchor="middle")
        d.wire((210, top), (edge - 260, top))
        d.wire((edge - 60, 60), (edge - 30, 60), (edge - 30, bottom))
        d.dot(edge - 30, bottom)
    else:
        d.wire((210, top), (edge, top))
        d.pin(edge, top, "5 V")
    for y, name in ((a, "A0  (a)"), (b, "A1  (b)")):
        d.wire((210, y), (270, y))
        read(d, 270, y, edge, values)
        d.pin(edge, y, name)
    d.dot(240, top)
    d.wire((240, top), (240, third), (270, third))
    read(d, 270, third, edge, values)
    d.pin(edge, third, "A2  (supply)")
    d.wire((210, bottom), (edge, bottom))
    d.pin(edge, bottom, "GND")
    d.dot(500, bottom)
    d.wire((500, bottom), (500, bottom + 6))
    d.ground(500, bottom + 6)
    d.notes(476, notes)
    return d.done()


def one_input(title: str, switch: bool) -> str:
    """Return a drawing of a pull-up with a rheostat, or with an idle switch, to 0 V."""
    d = Drawing(720, 400, title)
    d.box(550, 30, 150, 300, "5 V board")
    d.pin(550, 76, "5 V")
    d.pin(550, 150, "A3  (idle)" if switch else "A0  (a)")
    d.pin(550, 230, "A2  (supply)")
    d.pin(550, 310, "GND")
    d.box(20, 110, 150, 220, "idle switch" if switch else "rheostat")
    d.wire((170, 150), (550, 150))
    d.wire((205, 76), (550, 76))
    d.down(205, 76, VALUES["pull-up"], 150)
    d.dot(205, 150)
    d.part(300, 150, 366, VALUES["bench series"])
    d.dot(400, 150)
    d.capacitor(400, 150, VALUES["bench capacitor"], 196)
    d.ground(400, 196)
    # The supply's own line to the third input passes the line of the first one.
    d.dot(285, 76)
    d.wire((285, 76), (285, 230), (300, 230))
    filtered(d, 300, 230, 550)
    d.wire((170, 310), (550, 310))
    d.dot(250, 310)
    d.wire((250, 310), (250, 316))
    d.ground(250, 316)
    d.wire((110, 310), (170, 310))
    if switch:
        d.wire((170, 150), (110, 150), (110, 190))
        d.wire((110, 270), (110, 310))
        d.dot(110, 196)
        d.dot(110, 264)
        d.wire((110, 264), (86, 202))
        d.text(34, 300, "closed at", "n")
        d.text(34, 318, "rest", "n")
        notes = ("Closed reads near 0 V, open near 5 V. The tracks are wired beside it, as they",
                 "are without it; A2 reads the same 5 V that feeds them.")
    else:
        d.wire((170, 150), (110, 150))
        d.wire((110, 150), (110, 186))
        d.parts.append("<rect class='c' x='102' y='186' width='16' height='74'/>")
        d.wire((110, 260), (110, 310))
        d.wire((86, 258), (134, 190))
        d.parts.append("<path d='M137,186 l-12,4 l8,6 z'/>")
        d.text(88, 228, "0-5 kΩ", anchor="end")
        notes = ("Does it reach 0 Ω at rest? Then a short reads the same. 470 Ω between its lower",
                 "wire and GND for the sweep, and said so, tells the two apart.")
    for y in (150, 310):
        d.pin(170, y, "")
    d.notes(362, notes)
    return d.done()


def direction_switch() -> str:
    """Return a drawing of a switch for forward and reverse, each line with a pull-up, to 0 V."""
    d = Drawing(720, 510, "A direction switch with two pull-ups, on a 5 V board")
    d.box(550, 30, 150, 410, "5 V board")
    d.pin(550, 76, "5 V")
    d.pin(550, 150, "A4  (forward)")
    d.pin(550, 246, "A5  (reverse)")
    d.pin(550, 332, "A2  (supply)")
    d.pin(550, 420, "GND")
    d.box(20, 110, 150, 330, "direction")
    d.wire((196, 76), (550, 76))
    for x, y in ((196, 150), (266, 246)):
        # The pull-up of the second line passes the first one.
        d.down(x, 76, VALUES["pull-up"], 140)
        d.wire((x, 140), (x, y))
        d.dot(x, y)
        d.wire((170, y), (350, y))
        filtered(d, 350, y, 550)
        d.wire((110, y), (170, y))
        d.pin(170, y, "")
    d.dot(266, 76)
    # The supply's own line to the third input passes both.
    d.dot(334, 76)
    d.wire((334, 76), (334, 332), (350, 332))
    filtered(d, 350, 332, 550)
    d.dot(110, 156)
    d.dot(110, 240)
    d.wire((110, 150), (110, 156))
    d.wire((110, 240), (110, 246))
    # The lever stands between its two contacts: neutral.
    d.dot(52, 198)
    d.wire((52, 198), (98, 198))
    d.wire((52, 198), (52, 420), (170, 420))
    d.wire((170, 420), (550, 420))
    d.pin(170, 420, "")
    d.dot(300, 420)
    d.wire((300, 420), (300, 426))
    d.ground(300, 426)
    d.notes(474, (
        "A closed line reads near 0 V; with the lever between its contacts, as drawn, both are",
        "open: neutral. Both near 0 V at once is a fault. Roles: forward and reverse."))
    return d.done()


def in_the_car() -> str:
    """Return the drawing of the board that listens in the car."""
    d = Drawing(1090, 880, "Reading a pedal in the car: fused dividers and an isolated laptop")
    d.box(20, 40, 130, 190, "pedal")
    d.box(920, 40, 150, 190, "motor controller")
    loom = {"5 V": (80, 190, 310), "a": (120, 215, 400), "b": (160, 240, 490),
            "0 V": (200, 265, 776)}
    for name, (y, tap, row) in loom.items():
        d.wire((150, y), (920, y))
        d.pin(150, y, name, "left")
        d.pin(920, y, name)
        d.dot(tap, y)
        d.wire((tap, y), (tap, row), (290, row))
    d.text(590, 68, "the car's own loom, left as it is", "n", "middle")
    d.box(20, 545, 150, 165, "the car's 12 V")
    for y, name in ((590, "after the key"), (680, "brake lamp")):
        d.pin(170, y, name, "left")
        d.wire((170, y), (290, y))
    d.text(290, 262, "fuse and 100 kΩ sit at the tap, the rest at the board", "n")
    rows = ((310, "A2  (supply)", "car bottom"), (400, "A0  (a)", "car bottom"),
            (490, "A1  (b)", "car bottom"), (590, "A3  (key)", "12 V bottom"),
            (680, "A4  (brake)", "12 V bottom"))
    for y, _, bottom in rows:
        d.part(290, y, 340, "100 mA", fuse=True)
        d.wire((340, y), (352, y))
        read(d, 352, y, 640, ("car top", bottom, "car capacitor"))
    d.part(290, 776, 340, "100 mA", fuse=True)
    d.wire((340, 776), (640, 776))
    d.dot(440, 776)
    d.wire((440, 776), (440, 782))
    d.ground(440, 782)
    d.box(640, 270, 130, 530, "5 V board")
    for y, name, _ in rows:
        d.pin(640, y, name)
    d.pin(640, 776, "GND")
    d.box(810, 485, 110, 70, "USB", "z")
    d.text(865, 520, "isolator", "h", "middle")
    d.box(960, 465, 110, 110, "laptop")
    d.text(1015, 515, "on battery,", anchor="middle")
    d.text(1015, 537, "no charger", anchor="middle")
    d.wire((770, 520), (810, 520))
    d.wire((920, 520), (960, 520))
    d.wire((865, 300), (865, 474), dashed=True)
    d.wire((865, 566), (865, 776), dashed=True)
    d.text(878, 330, "nothing but the", "n")
    d.text(878, 348, "isolator crosses", "n")
    d.text(878, 366, "this line", "n")
    d.notes(826, (
        "First show that the pedal is not tied to the pack (drawing above). Key off while this is "
        "put on and while it is taken off.",
        "Key and brake lamp only where the pedal's 0 V and the body are one, below 10 Ω; "
        "else leave them out."), 20)
    d.text(20, 868, "The board comes off, or stays powered, before the car can move under power.",
           "r")
    return d.done()


def look_first() -> str:
    """Return the drawing of what is measured, in ohms, before anything is tapped."""
    d = Drawing(900, 470, "Before anything is tapped: ohms from the pedal to pack and body")
    d.box(20, 60, 120, 160, "pack")
    d.pin(140, 110, "+", "left")
    d.pin(140, 180, "−", "left")
    d.box(360, 60, 190, 160, "motor controller")
    d.pin(360, 110, "+")
    d.pin(360, 180, "−")
    for y in (110, 180):
        d.wire((140, y), (216, y))
        d.dot(216, y)
        d.wire((216, y), (256, y - 26))
        d.dot(264, y)
        d.wire((264, y), (360, y))
    d.text(246, 62, "disconnect OPEN", "r", "middle")
    d.text(130, 240, "service plug out too,", "n")
    d.text(130, 258, "if there is one", "n")
    d.wire((335, 110), (335, 134))
    d.wire((323, 134), (347, 134))
    d.wire((323, 142), (347, 142))
    d.wire((335, 142), (335, 180))
    d.dot(335, 110)
    d.dot(335, 180)
    d.text(456, 130, "capacitors", "r", "middle")
    d.text(456, 148, "discharged and", "r", "middle")
    d.text(456, 166, "proved: below 1 V", "r", "middle")
    d.box(730, 60, 150, 160, "pedal")
    d.pin(730, 90, "5 V")
    d.pin(730, 120, "a")
    d.pin(730, 150, "b")
    d.pin(730, 190, "0 V")
    for y in (90, 120, 150, 190):
        d.pin(550, y, "", "left")
        d.wire((550, y), (730, y))
    d.box(560, 280, 150, 70, "ohmmeter", "z")
    d.text(635, 334, "Ω, both ways round", anchor="middle")
    d.wire((690, 190), (690, 280))
    d.dot(690, 190)
    d.wire((560, 315), (500, 315))
    for y, words in ((270, "1  controller −"), (300, "2  controller +"), (330, "3  the car's body"),
                     (360, "4  12 V −")):
        d.text(320, y + 5, words)
        d.wire((452, y), (500, 315), dashed=True)
    d.wire((312, 270), (306, 270), (306, 180))
    d.dot(306, 180)
    d.wire((312, 300), (285, 300), (285, 110))
    d.dot(285, 110)
    for y in (330, 360):
        d.wire((296, y), (312, y))
        d.dot(296, y)
    for k, note in enumerate((
            "Key off, disconnect open, capacitors discharged and proved. Then ohms "
            "from the pedal's 0 V, one "
            "after the other.",
            "Volts show nothing here: the pack floats, and the meter itself pulls it to 0 V.",
            "At 1 or 2 below 1 MΩ, either way round: tied to the pack. Stop: work "
            "for someone licensed.")):
        d.text(20, 406 + 22 * k, note, "n" if k < 2 else "r")
    return d.done()


def drawings() -> dict[str, str]:
    """Return every drawing as SVG by the name of its file."""
    return {
        "three_wire_pots.svg": bench(
            "Two three-wire potentiometers on a 5 V board", "5 V board",
            ("bench series", "", "bench capacitor"), "",
            ("Fed from the board's 5 V, which is its reference too: every reading "
             "is a ratio of it,",
             "and A2 reads the top of the range. Say so: sweep --fed-by board.")),
        "hall_sensors.svg": bench(
            "Two Hall sensors on a 5 V board", "5 V board",
            ("bench series", "", "bench capacitor"), "",
            ("Supply, ground and output by the pedal's papers: no ohmmeter finds them, and "
             "the supply",
             "the wrong way round kills a sensor. Without papers, do not connect it."), sensors),
        "divider_to_3v3.svg": bench(
            "Two 5 V potentiometers on a 3.3 V board", "3.3 V board",
            ("3.3 V top", "3.3 V bottom", "3.3 V capacitor"), "",
            ("The same divider three times. 5 V is the board's USB supply, and no "
             "longer its reference:",
             "without A2 each wobble of it would count as travel.")),
        "bench_supply.svg": bench(
            "A pedal fed from a bench supply, on a 5 V board", "5 V board",
            ("bench supply top", "bench supply bottom", "bench supply capacitor"), "yes",
            ("The same divider three times, so that no input reaches its end when "
             "the bench supply is high",
             "and the board's own 5 V is low. Say so: sweep --fed-by bench.")),
        "rheostat_pull_up.svg": one_input(
            "A two-wire rheostat with a pull-up, on a 5 V board", False),
        "idle_switch.svg": one_input("An idle switch with a pull-up, on a 5 V board", True),
        "direction_switch.svg": direction_switch(),
        "look_first.svg": look_first(),
        "in_the_car.svg": in_the_car(),
    }


def main() -> None:
    """Write the drawings, and pictures of them where asked."""
    for name, svg in drawings().items():
        (PLACE / name).write_text(svg, encoding="utf-8")
        if len(sys.argv) > 2 and sys.argv[1] == "--png":
            as_png(svg, Path(sys.argv[2]) / name.replace(".svg", ".png"))


if __name__ == "__main__":
    main()
