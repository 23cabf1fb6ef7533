"""The logbook: one SQLite file of what happened, and the pictures and logs that belong to it."""
