"""Libraries that report their use to their makers are kept from it."""

import subprocess
import sys
import textwrap
from pathlib import Path

import pytest

from tests import no_network

ROOT = Path(__file__).resolve().parents[2]
LOAD_A_MODEL = """
    import sys
    sys.path.insert(0, sys.argv[1])
    from tests import no_network
    no_network.forbid_sockets_in_kernel()
    sys.path.insert(0, sys.argv[1] + "/src")
    {first}
    import importlib.resources
    import onnxruntime
    model = importlib.resources.files("rapidocr") / "models" / "PP-OCRv6_det_small.onnx"
    onnxruntime.InferenceSession(str(model), providers=["CPUExecutionProvider"])
"""


def files_left_at_home(home: Path, first: str) -> list[str]:
    """Load a model in a new process with an empty home folder, and return the files that appeared in it."""
    program = textwrap.dedent(LOAD_A_MODEL.format(first=first))
    # No other variable: on a CI machine the library holds its reports back by itself.
    environment = {"HOME": str(home), "PATH": "/usr/bin:/bin"}
    subprocess.run([sys.executable, "-c", program, str(ROOT)], env=environment, check=True, capture_output=True)
    return sorted(path.relative_to(home).as_posix() for path in home.rglob("*") if path.is_file())


@pytest.mark.skipif(not no_network.can_forbid_in_kernel(), reason="lets the library try with the Linux kernel refusing")
def test_the_network_runtime_reports_nothing_once_fanlight_is_imported(tmp_path: Path) -> None:
    """ONNX Runtime leaves an identifier and a queue of reports in the home folder when it means to report."""
    alone, with_fanlight = tmp_path / "alone", tmp_path / "with-fanlight"
    alone.mkdir()
    with_fanlight.mkdir()

    # The library alone does it: this says that the test below looks for the right thing.
    assert any("onnxruntime" in name for name in files_left_at_home(alone, "pass"))
    assert files_left_at_home(with_fanlight, "import fanlight") == []
