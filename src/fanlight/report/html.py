"""A document as one HTML file: nothing is fetched, people's text is escaped, pictures travel inside."""

from __future__ import annotations

import base64
from collections.abc import Iterable
from functools import singledispatch
from html import escape
from importlib import resources

from fanlight.report.document import (
    Advice,
    Beside,
    Block,
    Cell,
    Document,
    Drawing,
    Excerpt,
    Excerpts,
    Facts,
    FanRow,
    Figure,
    Grid,
    Heading,
    Items,
    Moved,
    Paragraph,
)
from fanlight.report.fan import draw_logo
from fanlight.report.passage import Passage


def _drawing(item: Drawing) -> str:
    data = base64.b64encode(item.svg.encode()).decode()
    return (
        f'<img class="drawing" src="data:image/svg+xml;base64,{data}" alt="{escape(item.alt)}" '
        f'style="height:{item.height_mm * 1.35:.1f}mm">'
    )


def _cell(item: Cell) -> str:
    return _drawing(item) if isinstance(item, Drawing) else escape(item)


@singledispatch
def _block(item: object) -> str:
    raise TypeError(f"no HTML form for {type(item).__name__}")


@_block.register
def _(item: Heading) -> str:
    return f"<h{item.level}>{escape(item.text)}</h{item.level}>"


@_block.register
def _(item: Paragraph) -> str:
    lead = f"<strong>{escape(item.lead)}</strong> " if item.lead else ""
    return f'<p class="{item.voice}">{lead}{escape(item.text)}</p>'


@_block.register
def _(item: Items) -> str:
    entries = "".join(f"<li>{escape(entry)}</li>" for entry in item.entries)
    return f'<ul class="{item.voice}">{entries}</ul>'


@_block.register
def _(item: Figure) -> str:
    data = base64.b64encode(item.png).decode()
    return (
        f'<figure style="width:{100 * item.width_fraction:.0f}%"><img src="data:image/png;base64,{data}" '
        f'alt="{escape(item.alt)}"><figcaption>{escape(item.caption)}</figcaption></figure>'
    )


@_block.register
def _(item: Grid) -> str:
    widths = "".join(f'<col style="width:{100 * width:.0f}%">' for width in item.widths)
    head = "".join(f'<th scope="col">{escape(cell)}</th>' if cell else "<td></td>" for cell in item.head)
    rows = "".join(f"<tr>{''.join(f'<td>{_cell(cell)}</td>' for cell in row)}</tr>" for row in item.rows)
    columns = f"<colgroup>{widths}</colgroup>"
    return f'<table class="{item.voice}">{columns}<thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>'


@_block.register
def _(item: Moved) -> str:
    drawn = "".join(
        f'<figure class="sketch">{_inline(drawing)}<figcaption>{escape(below)}</figcaption></figure>'
        for drawing, below in item.drawings
    )
    shown = "".join(
        f'<figure><img src="data:image/png;base64,{base64.b64encode(each.png).decode()}" alt="{escape(each.alt)}">'
        f"<figcaption>{escape(each.caption)}</figcaption></figure>"
        for each in item.pictures
    )
    row = f'<div class="moved">{drawn}{shown}</div>' if drawn or shown else ""
    note = f'<p class="quiet">{escape(item.note)}</p>' if item.note else ""
    return f'<ul class="{item.voice}"><li>{escape(item.words)}{row}{note}</li></ul>'


def _inline(item: Drawing) -> str:
    data = base64.b64encode(item.svg.encode()).decode()
    return f'<img src="data:image/svg+xml;base64,{data}" alt="{escape(item.alt)}">'


@_block.register
def _(item: Advice) -> str:
    todo = f'<p class="todo"><strong>Do:</strong> {escape(item.correction)}</p>' if item.correction else ""
    if item.withheld:
        todo += f'<p class="caution">{escape(item.withheld)}</p>'
    figure = _block(item.figure) if item.figure else ""
    if isinstance(item.moving, Excerpt):
        figure = excerpt_html(item.moving)
    elif isinstance(item.moving, Passage):
        figure += _to_come([item.moving])
    value = ""
    if item.value:
        drawn = _drawing(item.band) if item.band else ""
        value = f'<p class="quiet value">{drawn} {escape(item.value)}</p>'
    return (
        f'<section class="advice"><div class="words"><h3>{item.number}. {escape(item.title)} '
        f'<span class="where">{escape(item.where)}</span></h3><p class="engine">{escape(item.means)}</p>'
        f'<p class="engine"><strong>Usual cause:</strong> {escape(item.cause)}</p>{todo}{value}</div>'
        f"{figure}</section>"
    )


def excerpt_html(item: Excerpt) -> str:
    """Return a moving picture that plays by itself, or on request where the reader wants less motion; no script."""
    still, moving = (base64.b64encode(data).decode() for data in (item.still, item.moving))
    key = escape(item.key)
    return (
        f'<figure class="excerpt"><input type="checkbox" class="turn" id="{key}"><label for="{key}">'
        '<span class="by-itself">hold still, with the marks named</span><span class="on-request">play</span>'
        f'<span class="aside">: {escape(item.title)}</span></label><div class="pictures">'
        f'<img class="still" src="data:image/webp;base64,{still}" alt="{escape(item.still_alt)}">'
        f'<img class="moving" src="data:image/webp;base64,{moving}" alt="{escape(item.moving_alt)}"></div>'
        f"<figcaption>{escape(item.caption)}</figcaption></figure>"
    )


def _to_come(items: Iterable[Passage | Excerpt]) -> str:
    """Return which excerpts will play in the letter as it leaves; in a preview they are not cut out yet."""
    words = "; ".join(f"{item.title} ({item.caption})" for item in items)
    return f'<p class="quiet to-come">Will play in the signed letter: {escape(words)}.</p>'


@_block.register
def _(item: Excerpts) -> str:
    moving = [each for each in item.items if isinstance(each, Excerpt)]
    to_come = [each for each in item.items if isinstance(each, Passage)]
    shown = "".join(
        f'<li><p class="excerpt-title">{escape(each.title)}</p>{excerpt_html(each)}</li>' for each in moving
    )
    return (f'<ul class="excerpts">{shown}</ul>' if moving else "") + (_to_come(to_come) if to_come else "")


@_block.register
def _(item: Beside) -> str:
    figure = _block(item.figure) if item.figure else ""
    return f'<section class="beside">{figure}{_block(item.facts)}</section>'


@_block.register
def _(item: FanRow) -> str:
    fans = "".join(f"<li>{_drawing(fan)}<span>{escape(name)}</span></li>" for fan, name in item.fans)
    key = f'<p class="quiet">{escape(item.key)}</p>' if item.key else ""
    return f'<ol class="fans">{fans}</ol>{key}'


@_block.register
def _(item: Facts) -> str:
    pairs = "".join(f"<div><dt>{escape(name)}</dt><dd>{escape(value)}</dd></div>" for name, value in item.pairs)
    return f'<dl class="columns-{item.columns}">{pairs}</dl>'


def render_html(document: Document) -> str:
    """Return the page as text."""
    style = (resources.files("fanlight.report") / "templates" / "page.css").read_text("utf-8")
    blocks: tuple[Block, ...] = document.blocks
    body = "\n".join(_block(item) for item in blocks)
    return f"""<!doctype html>
<html lang="{document.language}">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; img-src data:; style-src 'unsafe-inline'">
<title>{escape(document.title)}</title>
<style>
{style}
</style>
</head>
<body class="{"small" if document.small else ""}">
<header>
{_drawing(draw_logo())}
<div><h1>{escape(document.title)}</h1><p class="subtitle">{escape(document.subtitle)}</p></div>
<p class="status">{escape(document.status)}</p>
</header>
<main>
{body}
</main>
<footer><p class="caution">{escape(document.caution)}</p><p class="quiet">{escape(document.footer)}</p></footer>
</body>
</html>
"""
