"""Holds a dose against the rules: findings, limits, rates."""
