"""The three steps at the left: route, load, when and weather."""
