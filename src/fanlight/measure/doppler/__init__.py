"""Values of a spectrum from its pixels: envelope, beats, and what each kind of flow gives. Pure."""
