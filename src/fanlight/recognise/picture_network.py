"""The picture network of the package, opened once in a process and run on one thread. Nothing is fetched."""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import lru_cache
from hashlib import sha256
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    import onnxruntime

SHIPPED = Path(__file__).with_name("picture.onnx")


class PictureNetworkMissingError(RuntimeError):
    """Views and landmarks cannot be proposed in this installation; everything else works."""

    def __init__(self, found: str) -> None:
        self.found = found
        super().__init__(
            f"nothing is recognised from the pixels: expected the package onnxruntime and the file {SHIPPED.name}, "
            f"found {found}; install fanlight again with its dependencies (no such build exists for Intel Macs)"
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PictureNetwork:
    """A network ready to be asked, and what it says of itself (docs/model-card.md)."""

    session: onnxruntime.InferenceSession
    facts: dict[str, Any]

    def ask(self, frames: NDArray[np.uint8], inside: NDArray[np.bool_]) -> dict[str, NDArray[np.float32]]:
        """Return every output by name for one clip.

        Parameters
        ----------
        frames : ndarray of shape (frame, side, side)
            Squares of `picture_square.to_square`, of about one beat.
        inside : ndarray of shape (side, side)
            Where the picture lies in them.
        """
        fed = np.empty((len(frames), 2, *frames.shape[1:]), np.float32)
        np.divide(frames, np.float32(255), out=fed[:, 0])
        fed[:, 1] = inside
        names = [output.name for output in self.session.get_outputs()]
        return dict(zip(names, self.session.run(None, {"frames": fed}), strict=True))


def open_network(path: Path = SHIPPED) -> PictureNetwork:
    """Return the network of a file.

    Raises
    ------
    PictureNetworkMissingError
        If onnxruntime or the file is not there, or the file is no such network.
    """
    try:
        import onnxruntime  # takes a good part of a second, so only when a picture is looked at
    except ImportError as error:
        raise PictureNetworkMissingError(f"no usable onnxruntime ({error})") from error
    if not path.is_file():
        raise PictureNetworkMissingError(f"no file {path}")
    onnxruntime.disable_telemetry_events()
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = options.inter_op_num_threads = 1
    options.log_severity_level = 3  # errors only
    try:
        session = onnxruntime.InferenceSession(str(path), options, providers=["CPUExecutionProvider"])
        facts = json.loads(session.get_modelmeta().custom_metadata_map["fanlight"])
    except Exception as error:  # onnxruntime's own errors share no base that it names
        raise PictureNetworkMissingError(f"a file that is no such network ({error})") from error
    return PictureNetwork(session=session, facts=facts)


@lru_cache(maxsize=1)
def shipped_network() -> PictureNetwork:
    """Return the network of the package, opened when first asked for.

    Raises
    ------
    PictureNetworkMissingError
        As `open_network`.
    """
    return open_network()


@lru_cache(maxsize=1)
def network_hash() -> str:
    """Return a hash of what would be asked; "" where it cannot be asked. Opens nothing."""
    if find_spec("onnxruntime") is None or not SHIPPED.is_file():
        return ""
    return sha256(SHIPPED.read_bytes()).hexdigest()[:16]
