"""What the numbers of a study mean together, and what they do not: pure, from measurements and what was named."""
