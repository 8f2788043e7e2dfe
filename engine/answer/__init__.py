"""Choose: the best lens of each kind, plans, how sure, why, and what has to be said."""
