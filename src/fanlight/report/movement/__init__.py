"""Pictures of a movement that is named: the view before and after it, simulated, and the probe drawn on the chest."""
