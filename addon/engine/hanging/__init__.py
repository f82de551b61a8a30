"""Which way up the part should hang, and whether it hangs that way by itself, turns or floats."""
