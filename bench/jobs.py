"""The jobs both faces call: record, open, analyse, export, report."""
