"""What the trade says of common trips, and what the program says of the same ones."""
