"""Collection day: who comes when for which box, how it is set up and when it is shut."""
