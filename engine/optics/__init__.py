"""Hold the bare formulas: focusing, spectacle lenses, the geometry of a workstation."""
