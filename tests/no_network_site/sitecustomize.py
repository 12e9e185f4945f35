"""Read by every Python process that has this folder on PYTHONPATH, before anything else: no connection may leave."""

import importlib.util
import pathlib

_SPEC = importlib.util.spec_from_file_location("_no_network", pathlib.Path(__file__).parent.parent / "no_network.py")
assert _SPEC is not None
assert _SPEC.loader is not None
_MODULE = importlib.util.module_from_spec(_SPEC)
_SPEC.loader.exec_module(_MODULE)
_MODULE.install()
