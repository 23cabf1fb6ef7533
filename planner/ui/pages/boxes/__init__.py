"""Pages about boxes rather than plans: looked at before the start, and what happened since."""
