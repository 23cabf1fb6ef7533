"""What could still be changed, what helps, how much water."""
