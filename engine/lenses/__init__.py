"""Hold what lenses are: surfaces solved here, families with one free power, the kinds of pair."""
