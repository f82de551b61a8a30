"""Boundary elements for Laplace's equation: the numerical method alone, for any problem with such conditions."""
