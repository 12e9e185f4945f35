"""Simulated screens as DICOM objects."""
