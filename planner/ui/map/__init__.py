"""The map: the road, what lies under it, what is met on it, the trip played along it."""
