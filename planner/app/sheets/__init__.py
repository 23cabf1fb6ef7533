"""Sheets: what driver, buyer, receiver and yard are handed, as records without layout."""
