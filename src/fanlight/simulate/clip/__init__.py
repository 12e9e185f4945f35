"""One still or clip: everything that settles it, its moments, and the way to its screen."""
