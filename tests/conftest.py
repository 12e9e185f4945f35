"""For all tests: nothing may leave this machine, and two workers share two cores."""

import os

from tests import no_network

# On import, not in a fixture: before any test module is read, and for the processes that tests start.
# A matrix library takes every core for itself, and its threads spin while another worker has them: tests of the
# simulator took three times the processor time so. Read when the library is loaded.
for _library in ("OMP", "OPENBLAS", "MKL"):
    os.environ.setdefault(f"{_library}_NUM_THREADS", "1")
no_network.install()
os.environ.update(no_network.environment_for_children(dict(os.environ)))
