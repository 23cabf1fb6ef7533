"""Numpy arithmetic of heat in boxes on the road: no IO, no logging, no threads, no clock.

Arrays have the axes ``(time, case)`` throughout; records are frozen.
"""
