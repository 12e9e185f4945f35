"""Colour Doppler: packets, estimate, maps, colour over grey."""
