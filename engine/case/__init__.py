"""Hold what is asked and answered: prescription, case, targets, results, and their arrays."""
