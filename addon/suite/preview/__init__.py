"""Previews of the part in other positions, and of its results in the viewports."""
