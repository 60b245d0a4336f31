"""What a sweep of the pedal shows, and what to do about it."""
