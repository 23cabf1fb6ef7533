"""The command line: asks and prints, decides nothing."""
