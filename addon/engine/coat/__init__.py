"""The conductive coat: volts lost on the way to the wire, where wires go and how many, and the first minutes."""
