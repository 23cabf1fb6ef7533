"""Parcels by carrier: may bees be posted this week, how packed, on which day, and what to ask."""
