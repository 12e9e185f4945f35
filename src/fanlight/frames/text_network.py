"""The two networks that find and read text, run on one thread each from the files of an installed package.

The models (detection by differentiable binarisation, recognition by connectionist temporal classification) lie
inside the wheel of ``rapidocr``. They are opened by their path and run by ONNX Runtime directly, so that no
code that could fetch anything is ever called, no second OpenCV is needed, and importing stays quick.
"""

from __future__ import annotations

import importlib.util
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.study import Box

if TYPE_CHECKING:
    import onnxruntime

PACKAGE: Final = "rapidocr"
DETECTION_MODEL: Final = "PP-OCRv6_det_small.onnx"
RECOGNITION_MODEL: Final = "PP-OCRv6_rec_small.onnx"

# Pixels that detection works on; measured, see docs/screen-text.md.
_DETECTION_AREA_PX: Final = 650_000
_LARGEST_ZOOM: Final = 2.5  # enlarging further adds no detail
_STRIDE_PX: Final = 32  # the network halves its input five times
# Defaults that the models were published with (rapidocr/config.yaml, section Det).
_PIXEL_LIMIT: Final = 0.3
_BOX_LIMIT: Final = 0.5
_UNCLIP_RATIO: Final = 1.6
_SMALLEST_SIDE_PX: Final = 3
# Engineering judgement: no line of text, level or upright, is thicker than this share of the screen.
_THICKEST_LINE: Final = 0.15
_READING_HEIGHT_PX: Final = 48  # input height of the recognition network
_SHORTEST_READING_PX: Final = 16
_LONGEST_READING_PX: Final = 3200  # engineering judgement: a hostile screen-wide box must not take all memory


class ScreenReaderMissingError(RuntimeError):
    """Text on the screen cannot be read in this installation."""

    def __init__(self, found: str) -> None:
        self.found = found
        super().__init__(
            f"screen text cannot be read: expected the packages onnxruntime and {PACKAGE} with their models, found "
            f"{found}; install fanlight again with its dependencies (no such build exists for Intel Macs)"
        )


def model_folder() -> Path:
    """Return the folder of the models inside the installed package.

    Raises
    ------
    ScreenReaderMissingError
        If the package or one of the models is not there. Nothing is fetched.
    """
    spec = importlib.util.find_spec(PACKAGE)
    if spec is None or spec.origin is None:
        raise ScreenReaderMissingError(f"no package {PACKAGE}")
    folder = Path(spec.origin).parent / "models"
    for name in (DETECTION_MODEL, RECOGNITION_MODEL):
        if not (folder / name).is_file():
            raise ScreenReaderMissingError(f"no model {name} in {folder}")
    return folder


def _open(path: Path) -> onnxruntime.InferenceSession:
    try:
        import onnxruntime  # takes a good part of a second, so only when text is read
    except ImportError as error:
        raise ScreenReaderMissingError(f"no usable onnxruntime ({error})") from error
    onnxruntime.disable_telemetry_events()  # on Windows; elsewhere fanlight/__init__.py has seen to it
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = 1
    options.inter_op_num_threads = 1
    options.log_severity_level = 3  # errors only
    options.enable_cpu_mem_arena = False  # screens differ in size; an arena would keep the largest for ever
    return onnxruntime.InferenceSession(str(path), options, providers=["CPUExecutionProvider"])


def _to_unit(picture: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Colour values from -1 to 1, channel first: what both networks were trained on."""
    return np.ascontiguousarray((picture.astype(np.float32) / 127.5 - 1.0).transpose(2, 0, 1)[None])


def _is_kept(character: str) -> bool:
    """Whether a character can stand on a Latin-script screen (the network knows eighteen thousand)."""
    return len(character) == 1 and (ord(character) < 0x180 or character in "−–—µ²≤≥")


class TextNetwork:
    """Finds text and reads it. A resource: build one for each process and keep it."""

    def __init__(self) -> None:
        folder = model_folder()
        self._detection: Any = _open(folder / DETECTION_MODEL)
        self._recognition: Any = _open(folder / RECOGNITION_MODEL)
        self._detection_input = self._detection.get_inputs()[0].name
        self._recognition_input = self._recognition.get_inputs()[0].name
        # Class 0 is "no character", the last one the space, as the models' own decoder adds them.
        listed = self._recognition.get_modelmeta().custom_metadata_map["character"].splitlines()
        characters = ["", *listed, " "]
        self._classes = np.array([i for i, mark in enumerate(characters) if i == 0 or _is_kept(mark)])
        self._characters = [characters[i] for i in self._classes]

    def find(self, picture: NDArray[np.uint8]) -> tuple[Box, ...]:
        """Return upright boxes around pieces of text.

        Parameters
        ----------
        picture : ndarray of shape (row, col, 3)
            Colour picture, 8 bit.

        Returns
        -------
        tuple of Box
            In pixels of the picture. Slanted text is held by its upright box.
        """
        rows, cols = picture.shape[:2]
        zoom = min(_LARGEST_ZOOM, (_DETECTION_AREA_PX / (rows * cols)) ** 0.5)
        high, wide = (max(_STRIDE_PX, round(side * zoom / _STRIDE_PX) * _STRIDE_PX) for side in (rows, cols))
        scaled = cv2.resize(picture, (wide, high), interpolation=cv2.INTER_CUBIC if zoom > 1 else cv2.INTER_AREA)
        likely = self._detection.run(None, {self._detection_input: _to_unit(np.asarray(scaled))})[0][0, 0]
        # Joins strokes that touch at a corner, as the models' own post-processing does.
        mask = cv2.dilate((likely > _PIXEL_LIMIT).astype(np.uint8), np.ones((2, 2), np.uint8))
        count, labels, stats, _ = cv2.connectedComponentsWithStats(mask, connectivity=8)
        boxes = []
        for index in range(1, count):
            col, row, width, height = (int(value) for value in stats[index][:4])
            if min(width, height) < _SMALLEST_SIDE_PX or min(width, height) > _THICKEST_LINE * min(wide, high):
                continue
            window = np.s_[row : row + height, col : col + width]
            if float(likely[window][labels[window] == index].mean()) < _BOX_LIMIT:
                continue
            # The network marks shrunken text; the published rule grows it by area x ratio / perimeter.
            grow = width * height * _UNCLIP_RATIO / (2 * (width + height))
            box = Box(
                row0=int(np.floor((row - grow) * rows / high)),
                col0=int(np.floor((col - grow) * cols / wide)),
                row1=int(np.ceil((row + height + grow) * rows / high)),
                col1=int(np.ceil((col + width + grow) * cols / wide)),
            ).clipped_to(rows, cols)
            if box is not None:
                boxes.append(box)
        return tuple(sorted(boxes, key=lambda box: (box.row0, box.col0)))

    def read(self, picture: NDArray[np.uint8]) -> tuple[str, float]:
        """Return the text of one line and how sure the network is (0 to 1).

        Parameters
        ----------
        picture : ndarray of shape (row, col, 3)
            The line alone, upright.
        """
        height, width = picture.shape[:2]
        wide = min(max(-(-_READING_HEIGHT_PX * width // height), _SHORTEST_READING_PX), _LONGEST_READING_PX)
        scaled = cv2.resize(picture, (wide, _READING_HEIGHT_PX), interpolation=cv2.INTER_CUBIC)
        scores = self._recognition.run(None, {self._recognition_input: _to_unit(np.asarray(scaled))})[0][0]
        scores = scores[:, self._classes]
        best, sure = scores.argmax(axis=1), scores.max(axis=1)
        new = best != 0
        new[1:] &= best[1:] != best[:-1]
        if not new.any():
            return "", 0.0
        return "".join(self._characters[i] for i in best[new]), float(sure[new].mean())
