"""Looking at the part another way than it was measured, and at its results in the viewports."""
