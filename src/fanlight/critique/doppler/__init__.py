"""Criteria of Doppler clips: colour box, scale, gain and artefacts; spectra."""
