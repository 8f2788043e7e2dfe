"""Tables of published values and judgements; README.md is their dictionary."""
