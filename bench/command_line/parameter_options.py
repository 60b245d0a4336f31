"""The parameters every analysing verb takes, as options; defaults come from `Parameters` itself."""

import argparse
from collections.abc import Mapping
from dataclasses import fields
from typing import Any

from analysis.model.errors import BadParameter
from analysis.parameters import Parameters
from bench.errors import BadCall

# option -> (field of Parameters, what it means)
_NUMBERS = {
    "--key-on-hours": ("key_on_hours", "hours at key-on in which noise must not lift the "
                       "reading past start of travel"),
    "--key-ons": ("key_ons", "later key-ons the dead band must outlast"),
    "--confidence": ("confidence", "of the bounds, 0.5 to 0.9999"),
    "--margin-volts": ("margin_volts", "added on top of the budget"),
    "--car-allowance-volts": ("car_allowance_volts", "what the car may add at key-on (assumed)"),
    "--supply-tolerance": ("supply_tolerance", "relative, when the supply was not recorded"),
    "--temperature-span": ("temperature_span_kelvin", "kelvin between coldest and hottest use"),
    "--track-ppm": ("track_ppm_per_kelvin", "drift of the track's ratio, ppm per kelvin"),
    "--converter-error": ("converter_error_steps", "error of the reading input, in steps"),
    "--allowed-lost-travel": ("allowed_lost_travel_percent", "dead band you accept, %% of travel"),
    "--electrical-angle": ("electrical_angle_degrees", "of the potentiometer, degrees"),
    "--track-ohms": ("track_ohms", "end-to-end resistance of the track"),
    "--mismatch-limit": ("mismatch_limit_percent", "tolerated between tracks, %% of travel"),
    "--mismatch-time": ("mismatch_time_s", "for how long it is tolerated, s"),
}


def add_parameters(parser: argparse.ArgumentParser) -> None:
    """Add the options that fill a `Parameters`."""
    group = parser.add_argument_group("parameters")
    defaults = {f.name: f.default for f in fields(Parameters)}
    for option, (name, text) in _NUMBERS.items():
        kind = int if name == "key_ons" else float
        group.add_argument(option, dest=name, type=kind, default=defaults[name], metavar="N",
                           help=f"{text} (default {defaults[name]:g})")
    for option, name, text in (
        ("--target-rest", "target_rest_volts", "wanted rest, e.g. a=0.5 (may be repeated)"),
        ("--target-full", "target_full_volts", "wanted full travel, e.g. a=4.2"),
    ):
        group.add_argument(option, dest=name, action="append", default=[], metavar="TRACK=VOLTS",
                           help=text)
    group.add_argument("--returns", choices=("even", "stick", "wide"), default=defaults["returns"],
                       help="how later returns may scatter: evenly (normal), as of a pedal that "
                       "may stick, or wider still (default stick)")
    group.add_argument("--own-reference", action="store_true",
                       help="the controller does not measure against the supply it feeds to the "
                       "pedal, so the supply's tolerance counts")
    group.add_argument("--heavy-vehicle", action="store_true", help="over 4536 kg: 2 s to return")
    group.add_argument("--cold", action="store_true", help="-18 to -40 C: 3 s to return")


def parameters_from(arguments: argparse.Namespace) -> Parameters:
    """Return the parameters; raise BadCall with the option as it is typed and what was wrong."""
    values = {name: getattr(arguments, name) for name, _ in _NUMBERS.values()}
    for name in ("target_rest_volts", "target_full_volts"):
        values[name] = dict(_pair(text) for text in getattr(arguments, name))
    try:
        return Parameters(**values, ratiometric_controller=not arguments.own_reference,
                      heavy_vehicle=arguments.heavy_vehicle, cold=arguments.cold,
                      returns=arguments.returns)
    except BadParameter as error:
        raise BadCall(_as_typed(str(error), values)) from None


def _as_typed(said: str, values: Mapping[str, Any]) -> str:
    """Return the refusal of a parameter in the words of the command line."""
    for name, what in (("target_rest_volts", "rest"), ("target_full_volts", "full")):
        if said.startswith(name):
            # The supply is not known before the file is read; the refusal then is the same.
            track, volts = next((t, v) for t, v in values[name].items() if not abs(v) <= 60.0)
            return (f"target {what} of track {track!r} is {volts:g} V; use a voltage between 0 "
                    "and the supply")
    option = next((o for o, (name, _) in _NUMBERS.items() if said.startswith(f"{name} is ")), "")
    return option + said[len(_NUMBERS[option][0]):] if option else said


def _pair(text: str) -> tuple[str, float]:
    track, equals, volts = text.rpartition("=")
    try:
        if not equals:
            raise ValueError
        return track.strip(), float(volts)
    except ValueError:
        raise BadCall(f"target {text!r} is not TRACK=VOLTS; write for example a=0.5") from None
