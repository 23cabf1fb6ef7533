"""The one answer: go, go if, do not go, cannot tell; everything else shows or carries this record."""
