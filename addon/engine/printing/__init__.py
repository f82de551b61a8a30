"""Printing for plating: layer steps, growth, the print-size copy."""
