"""For all tests: nothing may leave this machine."""

import os

from tests import no_network

# On import, not in a fixture: before any test module is read, and for the processes that tests start.
no_network.install()
os.environ.update(no_network.environment_for_children(dict(os.environ)))
