"""What a rule set is, how it is told, and what one changes against another."""
