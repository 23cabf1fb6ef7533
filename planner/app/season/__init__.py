"""Which hours of the year are safe on a route."""
