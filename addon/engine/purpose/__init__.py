"""What a deposit is for, and the thickness that this takes: look, shielding, stiffness, heat, mass."""
