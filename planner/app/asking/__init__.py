"""A trip from a few words: place names and quick plans."""
