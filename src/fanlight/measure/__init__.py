"""Numbers taken from clips or given with the study; one measurement a file."""
