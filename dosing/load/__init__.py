"""Reads a rule set file and names all its faults at once."""
