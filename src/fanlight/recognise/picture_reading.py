"""What the picture network says of a clip, in the clip's own pixels; and the view that is proposed for it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from fanlight.recognise.beat_frames import BeatFrames, Painted
from fanlight.recognise.colour_on_muscle import colour_on_muscle
from fanlight.recognise.found_lines import find_lines
from fanlight.recognise.odd_picture import what_speaks_against
from fanlight.recognise.picture_network import PictureNetwork, network_hash
from fanlight.recognise.picture_square import inside, square_of
from fanlight.recognise.structure_summary import summarise
from fanlight.reference.chambers import ViewChambers
from fanlight.reference.recognition import RecognitionLimits
from fanlight.study import (
    ClipTime,
    FoundLandmark,
    Landmark,
    Layout,
    Mode,
    ModeReading,
    PictureReading,
    Sector,
    ViewReading,
    ViewShare,
    ViewSource,
)

VERSION = 5

# It has learnt plain 2-D pictures; of colour clips it is shown the grey (figures: docs/model-card.md).
ASKED_MODES = (Mode.TWO_D, Mode.COLOUR)
_MOST_VIEWS = 3
_LEAST_SHARE = 0.02  # a view below this says nothing
_LEAST_LANDMARK = 0.3  # kept from here on, so that a House may propose more than ours does


def why_not_asked(mode: ModeReading, layout: Layout) -> str:
    """Return why a clip is not shown to the network, "" when it is: it has learnt 2-D pictures in a sector."""
    if mode.mode not in ASKED_MODES:
        return "only 2-D pictures and colour clips are looked at"
    if not isinstance(layout.picture, Sector):
        return "no sector was found on the screen"
    return ""


def read_picture(network: PictureNetwork, frames: BeatFrames, picture: Sector, time: ClipTime) -> PictureReading:
    """Return views, landmarks, calipers, side of the marker and what is kept of the masks of one clip.

    Parameters
    ----------
    network : PictureNetwork
        Ready to be asked.
    frames : BeatFrames
        Has seen the whole clip.
    picture : Sector
        Where the picture lies on the screen.
    time : ClipTime
        Tells one beat, and which frames stand for it.
    """
    indices, squares = frames.chosen(time)
    said = network.ask(squares, inside(square_of(picture).sector))
    return reading_of(said, network, indices, picture, frames.coloured(indices))


def reading_of(
    said: Mapping[str, NDArray[np.float32]],
    network: PictureNetwork,
    indices: tuple[int, ...],
    picture: Sector,
    painted: Painted | None = None,
) -> PictureReading:
    """Return what the network said of the frames `indices`, as it is kept; `picture` as for `read_picture`."""
    square, names = square_of(picture).sector, network.facts["structures"]
    masks = summarise(said["structures"], names, indices, square)
    return PictureReading(
        frames=indices,
        views=_views(said["view"], network.facts["views"]),
        mirrored=float(said["mirrored"][0]),
        landmarks=_landmarks(said, indices, picture, network),
        lines=find_lines(said, network.facts, indices, picture),
        structures=masks.structures,
        unsure_share=masks.unsure_share,
        colour=None if painted is None else colour_on_muscle(said["structures"], names, indices, square, painted),
        network=network_hash(),
    )


def _views(shares: NDArray[np.float32], names: list[str]) -> tuple[ViewShare, ...]:
    """Return the likeliest views; the last of the names is none of them."""
    order = np.argsort(-shares)[:_MOST_VIEWS]
    return tuple(
        ViewShare(view=names[k] if k < len(names) - 1 else "", probability=float(shares[k]))
        for k in order
        if shares[k] >= _LEAST_SHARE
    )


def _landmarks(
    said: Mapping[str, NDArray[np.float32]], indices: tuple[int, ...], picture: Sector, network: PictureNetwork
) -> tuple[FoundLandmark, ...]:
    """Return landmarks on the two frames that stand for the beat: nearest to the ends of diastole and of systole."""
    square = square_of(picture)
    names, factor = network.facts["landmarks"], float(network.facts["spread_factor"])
    found = []
    from_diastole = np.abs((said["phase"] + 0.5) % 1.0 - 0.5)  # 0 at the end of diastole, 0.5 at that of systole
    for place in sorted({int(from_diastole.argmin()), int(from_diastole.argmax())}):
        points = square.to_screen(said["landmarks"][place, :, :2].astype(np.float64), picture)
        for name, (row, col), (_, _, spread, share) in zip(names, points, said["landmarks"][place], strict=True):
            if share >= _LEAST_LANDMARK:
                found.append(
                    FoundLandmark(
                        landmark=Landmark[name.upper()].name, frame=indices[place], point=(float(row), float(col)),
                        spread_px=float(spread) * factor * square.rows_per_px, probability=float(share),
                    )
                )  # fmt: skip
    return tuple(found)


def with_proposal(
    named: ViewReading,
    picture: PictureReading | None,
    limits: RecognitionLimits,
    titles: Mapping[str, str],
    chambers: Mapping[str, ViewChambers],
) -> ViewReading:
    """Return the view that a clip has in the draft: as something names it, else as recognised, else not known and why.

    Parameters
    ----------
    named : ViewReading
        As tags, texts or marks name it.
    picture : PictureReading or None
        What the network says.
    limits : RecognitionLimits
        Of the House.
    titles : mapping of str to str
        Words of each view.
    chambers : mapping of str to ViewChambers
        Which chambers each view must show; without them, or with much that is no structure, no view is believed.
    """
    if picture is None or not picture.views:
        return named
    first = picture.views[0]
    against = what_speaks_against(picture, limits, chambers) if first.view else ""
    if named.view:
        if first.view == named.view or first.probability < limits.name_differs_from or against:
            return named
        return replace(named, reason=_joined(named.reason, f"the picture looks like {_words(first, titles)}"))
    if against and first.probability >= limits.view_from:
        said = f"not sure from the picture: it looks like {_words(first, titles)}, but {against}"
        return replace(named, reason=_joined(named.reason, said))
    if first.view and first.probability >= limits.view_from:
        return ViewReading(
            view=first.view, source=ViewSource.RECOGNISED, probability=first.probability, valve=named.valve
        )
    if first.probability >= limits.view_from:
        return replace(named, reason=_joined(named.reason, f"the picture looks like {_words(first, titles)}"))
    likely = ", ".join(_words(share, titles) for share in picture.views)
    return replace(named, reason=_joined(named.reason, f"not sure from the picture: {likely}"))


def _words(share: ViewShare, titles: Mapping[str, str]) -> str:
    name = titles.get(share.view, share.view) if share.view else "none of the standard views"
    return f"{name} ({100 * share.probability:.0f} %)"


def _joined(reason: str, more: str) -> str:
    return f"{reason}; {more}" if reason else more
