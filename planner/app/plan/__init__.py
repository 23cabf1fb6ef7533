"""Which departure, place and set-up is best: the plan, its words, documents and pictures."""
