"""Words for senders: how a stated value is written, by its name."""

# Of no sender in particular; only the way to write them counts.
EXAMPLES = {"top_ohms": "1M", "bottom_ohms": "10k", "highest_volts": "160", "rated_amps": "200",
            "rated_millivolts": "75", "known_ohms": "10k",
            "pulses_per_turn": "4",
            "gauge_ohms": "90", "gauge_volts": "12", "gain": "8.2"}
