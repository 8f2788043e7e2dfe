"""Answer a wearer at home, without a power or a measure to order from."""
