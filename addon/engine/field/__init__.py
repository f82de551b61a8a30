"""The current distribution in the tank: Laplace's equation in the liquid by boundary elements."""
