"""What is drawn: colors on the part, over the viewport, and the client's picture."""
