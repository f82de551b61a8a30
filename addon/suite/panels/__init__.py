"""The tab: what the user reads and sets."""
