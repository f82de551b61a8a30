"""Linear algebra that several rooms share: sparse systems, their solvers, labels of connected pieces."""
