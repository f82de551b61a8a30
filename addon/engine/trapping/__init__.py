"""Where gas and liquid stay, for a way up."""
