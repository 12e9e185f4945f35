"""Pulsed wave, continuous wave and tissue Doppler: the beam, what it meets, the signal, its strip."""
