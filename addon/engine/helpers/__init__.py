"""What can be printed to help: the hanger that holds the part, and plugs for holes that only take current away."""
