"""Linear algebra that several packages share: sparse systems, their solvers, labels of connected pieces."""
