"""Holds the libraries for matrices to one thread, when it is imported before them: they read the environment once."""

import os

os.environ.update(OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1", MKL_NUM_THREADS="1")
