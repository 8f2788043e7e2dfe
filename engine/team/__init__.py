"""Compare an employer's policies, with small groups hidden."""
