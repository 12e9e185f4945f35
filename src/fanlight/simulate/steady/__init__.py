"""What a hand without any fault would do."""
