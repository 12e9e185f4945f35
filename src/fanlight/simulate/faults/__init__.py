"""What goes wrong on purpose, each in five grades."""
