"""Fanlight: review of veterinary heart scans for the mentors who teach them."""

import os as _os

# ONNX Runtime, from 1.29 on, keeps an identifier in the user's cache folder and reports its use over the network,
# unless this stands in the environment before it is loaded (its pull request 27379). Nothing may leave the machine: so
# it stands here, where every process passes before any room of the package loads a library.
_os.environ["ORT_DISABLE_TELEMETRY"] = "1"

__version__ = "0.1.0"
