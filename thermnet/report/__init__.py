"""Sections of a report move in here, each a function of what was solved."""
