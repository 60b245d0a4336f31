"""From a board's bytes to rows: boards, wire, recorder, guided plan."""
