"""What the printer leaves and what plating adds: layer steps, growth, the print-size copy."""
