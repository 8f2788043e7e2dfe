"""Check a finished pair, hand it over, follow it up and look into a complaint."""
