"""Printed helpers: hangers, masks, plugs, racks, anode holders, shields and thieves."""
