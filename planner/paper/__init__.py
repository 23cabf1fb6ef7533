"""Finished sheets put on paper, phone, label and calendar; what that needs is loaded when something is written."""
