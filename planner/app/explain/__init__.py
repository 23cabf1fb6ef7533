"""Pages that explain the program to beekeepers: what we say of common trips, and the model in one drawing."""
