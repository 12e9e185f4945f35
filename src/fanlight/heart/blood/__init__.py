"""Blood that flows in the parametric heart: how much, how fast, where to."""
