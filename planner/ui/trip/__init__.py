"""What the hand enters: route, load, weather, trip files."""
