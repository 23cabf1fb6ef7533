"""The page of a collection day: its tables, its yard, its plan."""
