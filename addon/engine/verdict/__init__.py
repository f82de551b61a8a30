"""What to change before printing, what the tool can change by itself, and what became better or worse."""
