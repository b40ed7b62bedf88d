"""One small function for each kind of event: the state after it."""
