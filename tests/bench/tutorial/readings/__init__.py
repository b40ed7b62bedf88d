"""The one app of the tutorial project."""
