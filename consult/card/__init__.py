"""The card: one plain dict of a case, built from kept facts, shown alike by API, socket and pages."""
