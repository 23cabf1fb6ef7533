"""How long the vehicle may stand, where a box tips over, what a delay does."""
