"""Files of the user and of the program: catalogues, trips, roads and weather on disk."""
