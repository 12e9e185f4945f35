"""The screens of invented consoles: places, words, curves, and what is true of each screen."""
