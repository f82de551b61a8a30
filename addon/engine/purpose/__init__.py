"""The purpose of a deposit and the thickness it requires: look, wear, shielding, stiffness, strength, heat, mass."""
