"""Geometry of arrays of points and triangles: each formula once, with its source."""
