"""The part as a surface: mesh faults, welding, orientation, and what the liquid touches."""
