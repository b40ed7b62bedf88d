"""Which causes for an alert stand, and when that can next change."""
