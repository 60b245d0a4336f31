"""Every colour of plots, paper and window, once for light and once for dark.

No other module writes a colour. Those of the tracks are from Okabe and Ito, "Color Universal
Design" (2008); no meaning hangs on colour alone. A colour is "#rrggbb", or "#rrggbbaa" where
what lies below shows through.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class Palette:
    """Hold one set of colours.

    page, window, picked: what lies behind text: a sheet or a card, the window around cards, and
    what is chosen. ink, quiet: text, and text that may be passed over. edge, faint: rules, and
    rules between rows. field: the border of what can be typed into or pressed, 3:1 against page
    and window (WCAG 2.2, 1.4.11). accent, on_accent: what is to be pressed, and the text on it.
    grave, mend, know, good: how serious a finding is; the word always stands beside it.
    tracks: in column order, six of them; fault: marks in a plot; grid: axes and lines that only
    guide the eye; band: the dead band; shade: by kind of segment.
    """

    name: str
    page: str
    window: str
    picked: str
    ink: str
    quiet: str
    edge: str
    faint: str
    field: str
    accent: str
    on_accent: str
    grave: str
    mend: str
    know: str
    good: str
    tracks: tuple[str, ...]
    fault: str
    grid: str
    band: str
    shade: dict[str, str]


LIGHT = Palette(
    name="light",
    page="#ffffff", window="#eef1f3", picked="#dcebf5",
    ink="#1c2126", quiet="#55606a", edge="#c9d0d6", faint="#e1e4e7", field="#78838d",
    accent="#00527f", on_accent="#ffffff",
    grave="#A3005F", mend="#9A4A00", know="#45525e", good="#00664F",
    tracks=("#0072B2", "#D55E00", "#009E73", "#8A5FA8", "#7A6A00", "#3A7CA5"),
    fault="#B0006D", grid="#6b747d", band="#E69F0038",
    shade={"rest": "#00000014", "press": "#0072B226", "hold": "#E69F0040",
           "release": "#009E7326"})
DARK = Palette(
    name="dark",
    page="#15191d", window="#0d1013", picked="#1e3342",
    ink="#e6e9ec", quiet="#a3adb6", edge="#39424a", faint="#262d33", field="#717c86",
    accent="#7CC4F0", on_accent="#06202f",
    grave="#FF8CCB", mend="#FFB454", know="#b4bec7", good="#4FD3AE",
    tracks=("#56B4E9", "#E69F00", "#2FC79B", "#D6A3E0", "#F0E442", "#A9C7DC"),
    fault="#FF7CC8", grid="#98a2ab", band="#E69F0038",
    shade={"rest": "#ffffff14", "press": "#56B4E930", "hold": "#E69F0038",
           "release": "#2FC79B30"})
