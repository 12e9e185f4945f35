"""From where the probe stood to the movements that are worth saying, and what they explain."""
