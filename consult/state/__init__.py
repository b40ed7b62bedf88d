"""What a case is, as values: decoded from its row at once, never changed in place."""
