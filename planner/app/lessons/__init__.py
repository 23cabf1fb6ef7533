"""After a season: where boxes were lost more often than elsewhere, and whether the program's chances came true."""
