"""The jobs both faces call, one module each: record, analyse, export, report."""
