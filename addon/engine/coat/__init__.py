"""The conductive coat: voltage lost on the way to the wire, where wires go and how many, and the current ramp."""
