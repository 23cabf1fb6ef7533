"""After a loss: which stories agree with what was found, how well the best of them fits, and what would settle it."""
