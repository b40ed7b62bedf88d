"""Rows for reading: made of what has happened, by nothing else, so that the journal can make them again."""
