"""What a temperature logger says about one's own boxes."""
