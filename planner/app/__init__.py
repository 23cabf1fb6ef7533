"""Use cases: plan a trip, compare, explain. No Qt, no SQL, no HTTP; randomness and time come in as arguments."""
