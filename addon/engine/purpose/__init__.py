"""What a deposit is for, and the thickness that this takes: look, wear, shielding, stiffness, strength, heat, mass."""
