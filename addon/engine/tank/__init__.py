"""What stands in the tank, and the walls round it."""
