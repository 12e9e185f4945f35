"""Published formulas, one concept a file. Inputs outside a formula's domain raise `UndefinedError`."""
