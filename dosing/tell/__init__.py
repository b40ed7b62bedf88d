"""What a crew is told and offered before it gives, and whether it read back what was meant."""
