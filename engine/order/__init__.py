"""Write what a laboratory needs, what changes from the pair worn, and the letter."""
