"""Whether the masks bear out the view that the network names: a picture of something else has other ones, or none."""

from __future__ import annotations

from collections.abc import Mapping

from fanlight.reference.chambers import ViewChambers
from fanlight.reference.recognition import RecognitionLimits
from fanlight.study import PictureReading

_FRAMES_SHARE = 0.5  # of the frames that show a chamber: less is a patch that comes and goes (engineering judgement)


def what_speaks_against(
    picture: PictureReading, limits: RecognitionLimits, chambers: Mapping[str, ViewChambers]
) -> str:
    """Return why the likeliest view is not believed, "" where its masks bear it out.

    Parameters
    ----------
    picture : PictureReading
        Its likeliest view is judged. Where it holds no structures nothing is asked of them.
    limits : RecognitionLimits
        Of the House: `unnamed_to` and `chamber_from`.
    chambers : mapping of str to ViewChambers
        Which chambers each view must show (`reference.chambers`).

    Notes
    -----
    In clips of ring A that were proposed no structure is sure in 0.9 % of the picture (median; 2.3 % at most, 107
    clips), and in 13 % or more of what is no heart, lies upside down or is cut up and yet looked like a view. Real
    pictures differ from drawn ones: on them the masks may be less sure, and then no view is proposed.
    """
    if picture.unsure_share > limits.unnamed_to:
        return f"no structure can be told in {100 * picture.unsure_share:.0f} % of it"
    view = chambers.get(picture.views[0].view) if picture.views else None
    if view is None or not picture.structures:
        return ""
    seen = {
        item.structure
        for item in picture.structures
        if item.frames_share >= _FRAMES_SHARE and item.area_share >= limits.chamber_from
    }
    missing = [kind.value for kind in view.whole if kind.name not in seen]
    return f"it shows no {' and no '.join(missing)}" if missing else ""
