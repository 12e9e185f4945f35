"""Fanlight: review of veterinary heart scans for the mentors who teach them."""

__version__ = "0.1.0"
