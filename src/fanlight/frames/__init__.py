"""From frames to what stands where on the screen, how large a pixel is, and when the heart beats."""
