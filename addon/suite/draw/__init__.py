"""What is drawn: colours on the part, over the viewport, and the client's picture."""
