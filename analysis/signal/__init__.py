"""One channel as a signal: what is noise, what is missing, what moves."""
