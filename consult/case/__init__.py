"""The pure core: what is decided, what follows from it, and the card. No database, no clock."""
