"""Decisions: the state, what is asked and the rules in; events out. Nothing is written here."""
