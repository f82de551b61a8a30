"""The tank: its contents and walls."""
