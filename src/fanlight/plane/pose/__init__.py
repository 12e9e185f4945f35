"""Where the probe stood: landmarks of placed clips, gathered by window and fitted together."""
