"""What a click does."""
