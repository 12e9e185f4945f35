"""What each clip and each number stands on, and what a missed criterion does to it."""
