"""The bath and the metal: densities, conductivity, kinetics, and what a current deposits."""
