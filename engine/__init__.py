"""Levelgaze: which lens lets a presbyope see a day of work, clear and with a level head."""
