"""One module per page, in the order of the work."""
