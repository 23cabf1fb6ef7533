"""Everything that is the user's and not the trip's."""
