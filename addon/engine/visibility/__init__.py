"""Which share of the directions from each face reaches open bath."""
