"""The ultrasound machine that images the parametric heart, and studies whose truth is known."""
