"""Words for senders: how a stated value is written, by its name, and where points come from."""

# Of no sender in particular; only the way to write them counts.
EXAMPLES = {"top_ohms": "1M", "bottom_ohms": "10k", "highest_volts": "160", "rated_amps": "200",
            "rated_millivolts": "75", "known_ohms": "10k",
            "pulses_per_turn": "4",
            "gauge_ohms": "90", "gauge_volts": "12", "gain": "8.2"}
# Bare `stillpedal meter`: the usual call first.
NO_SOURCE = ("no points given: take them now with --board PORT, such as `stillpedal meter --kind "
             "thermistor --set known_ohms=10k --board PORT`, or read them with --from FILE; for a "
             "speed or a charge pilot state what your own meter shows: --kind speed --set hertz=50 "
             "--set pulses_per_turn=4, or --kind pilot --set hertz=1000 --set duty_percent=25")
