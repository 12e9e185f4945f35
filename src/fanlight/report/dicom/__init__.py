"""The numbers of a review as a DICOM structured report."""
