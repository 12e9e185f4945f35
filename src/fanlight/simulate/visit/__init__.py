"""A whole visit: practice, animal, hand, examination, files and their truth."""
