"""Reading Doppler off the screen: colours back to velocities, spectra back to curves."""
