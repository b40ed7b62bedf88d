"""Runs in which something dies: what was accepted must be there afterward, once."""
