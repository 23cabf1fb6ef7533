"""What runs behind the window: background work, sources, session, recovery."""
