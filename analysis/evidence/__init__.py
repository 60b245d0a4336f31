"""What was seen, what was not, and what may therefore be claimed."""
