"""Skepway: plans trips that keep live bees alive on the road."""

__version__ = "0.1.0"
