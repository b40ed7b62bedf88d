"""The tutorial way, to compare with: a ModelViewSet, the token table, a signal that sends to a channel group."""
