"""Before and after a pairing: readiness, reasons, windows of dates, cautions, what is known of a species."""
