"""What everything else speaks of: a recording, an estimate, what went wrong."""
