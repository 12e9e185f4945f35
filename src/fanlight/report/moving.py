"""Moving excerpts put into a letter, and kept to a size: what has to go goes by rule, and is named.

Too large, and first the excerpts of what is right go, the last one first. Then those of what is to be mended get fewer
pixels, all alike. Only then do these go too, the last point first.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from fanlight.reference.letter import ExcerptLimits
from fanlight.report.document import Advice, Block, Document, Excerpt, Excerpts, Heading, Items, Paragraph, Voice
from fanlight.report.excerpt import Cutting, ExcerptError, PassageSource
from fanlight.report.html import excerpt_html, render_html
from fanlight.report.passage import Passage


@dataclass(frozen=True, slots=True)
class _Cuts:
    excerpts: Mapping[int, Excerpt]  # by place among the passages
    left_out: Mapping[int, str]  # why
    size_px: int


def with_excerpts(letter: Document, source: PassageSource, limits: ExcerptLimits) -> Document:
    """Return a letter with its passages cut out; its HTML stays within the limit.

    Parameters
    ----------
    letter : Document
        As `build_letter` made it, its passages not cut out.
    source : PassageSource
        Where passages come from.
    limits : ExcerptLimits
        How large, how good.
    """
    passages = list(_passages(letter.blocks))
    if not passages:
        return letter
    order = sorted(range(len(passages)), key=lambda place: passages[place].is_praise)  # what is to be mended first
    bare = _replaced(letter, passages, _Cuts({}, dict.fromkeys(order, "x" * 160), limits.sizes_px[-1]), limits)
    room = round(1e6 * limits.most_mb) - len(render_html(bare).encode())
    return _replaced(letter, passages, _kept(passages, order, room, source, limits), limits)


def _passages(blocks: Sequence[Block]) -> Iterator[Passage]:
    """Yield the passages of a letter in the order in which they stand."""
    for block in blocks:
        if isinstance(block, Advice) and isinstance(block.moving, Passage):
            yield block.moving
        elif isinstance(block, Excerpts):
            yield from (item for item in block.items if isinstance(item, Passage))


def _kept(
    passages: Sequence[Passage], order: Sequence[int], room: int, source: PassageSource, limits: ExcerptLimits
) -> _Cuts:
    """Return what stays: by rule, so that the same letter always keeps the same."""
    left_out: dict[int, str] = {}
    kept = list(order)
    too_large = f"the letter would have been larger than {limits.most_mb:g} MB"
    for size_px in limits.sizes_px:
        cutting = Cutting(longest_px=size_px, quality=limits.quality)
        excerpts: dict[int, Excerpt] = {}
        for place in list(kept):
            try:
                excerpts[place] = _cut(passages[place], place, source, cutting)
            except ExcerptError as error:
                left_out[place] = str(error)
                kept.remove(place)
        sizes = {place: len(excerpt_html(item)) for place, item in excerpts.items()}
        is_last = size_px == limits.sizes_px[-1]
        while kept and sum(sizes[place] for place in kept) > room and (is_last or passages[kept[-1]].is_praise):
            left_out[kept.pop()] = too_large
        if sum(sizes[place] for place in kept) <= room:
            break
    return _Cuts({place: excerpts[place] for place in kept}, left_out, size_px)


def _cut(passage: Passage, place: int, source: PassageSource, cutting: Cutting) -> Excerpt:
    cut = source.cut(passage, cutting)
    labels = ", ".join(dict.fromkeys(item.label for item in passage.evidence if item.label))
    marked = f" Marked: {labels}." if labels else ""
    return Excerpt(
        key=f"excerpt-{place + 1}",
        title=passage.title,
        still=cut.still,
        moving=cut.moving,
        caption=passage.caption,
        still_alt=f"{passage.title}: {passage.still_caption}.{marked}",
        moving_alt=f"{passage.title}, moving: {passage.caption}.{marked}",
    )


def _replaced(letter: Document, passages: Sequence[Passage], cuts: _Cuts, limits: ExcerptLimits) -> Document:
    places = iter(range(len(passages)))
    blocks = [_block(block, places, cuts) for block in letter.blocks]
    notes: list[Block] = []
    if cuts.left_out:
        lines = tuple(
            f"{passages[place].still_caption}, {passages[place].title[:1].lower()}{passages[place].title[1:]}: {why}."
            for place, why in sorted(cuts.left_out.items())
        )
        notes = [Heading(text="Moving excerpts left out", level=3), Items(entries=lines, voice=Voice.QUIET)]
    if cuts.size_px != limits.sizes_px[0]:
        words = f"Moving excerpts have {cuts.size_px} pixels, so that the letter stays below {limits.most_mb:g} MB."
        notes.append(Paragraph(text=words, voice=Voice.QUIET))
    return replace(letter, blocks=(*(block for block in blocks if block is not None), *notes))


def _block(block: Block, places: Iterator[int], cuts: _Cuts) -> Block | None:
    if isinstance(block, Advice) and isinstance(block.moving, Passage):
        return replace(block, moving=cuts.excerpts.get(next(places)))
    if isinstance(block, Excerpts):
        found = [cuts.excerpts.get(next(places)) if isinstance(item, Passage) else item for item in block.items]
        items = tuple(item for item in found if item is not None)
        return Excerpts(items=items) if items else None
    return block
