"""Pieces of inline SVG, and the only colours of the pages: ink, two greys, hair lines, teal (good), amber (care).

A chart gathers what has one colour into one path, since the PDF engine pays per element.
"""

from __future__ import annotations

from collections.abc import Iterable

from markupsafe import Markup, escape

INK, GREY, PALE, HAIR = "#1d2733", "#53606c", "#8a949e", "#dde2e6"
TEAL, TEAL_TINT, AMBER, AMBER_TINT = "#0f5c6e", "#d5e8ea", "#b8690b", "#fbf3e6"
# Words in amber: the lighter one is for lines and marks.
AMBER_WORDS = "#8f4f05"
# The width of a figure of the pages' face, in ems; letters are as wide on the average.
USUAL_LETTER = 0.5
FONT = "'Source Sans Pro', 'Segoe UI', 'Helvetica Neue', Arial, sans-serif"


def svg(width: float, height: float, title: str, body: Iterable[str], css_class: str) -> Markup:
    """A drawing in points with its title, which says what it shows."""
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="{css_class}" role="img" width="{width:g}pt" '
        f'height="{height:g}pt" viewBox="0 0 {width:g} {height:g}"><title>{escape(title)}</title>'
    )
    return Markup(head + "".join(body) + "</svg>")


def path(
    commands: str, fill: str = "none", stroke: str = "none", width: float = 0.6, more: str = "", opacity: float = 1.0
) -> str:
    """A path, its fill of this opacity; nothing where there are no commands."""
    if not commands:
        return ""
    line = "" if stroke == "none" else f' stroke="{stroke}" stroke-width="{width:g}"'
    through = "" if opacity == 1.0 else f' fill-opacity="{opacity:g}"'
    return f'<path d="{commands}" fill="{fill}"{line}{through}{more}/>'


def text(x: float, y: float, words: str, size: float, fill: str, anchor: str = "start", weight: int = 400) -> str:
    """Words at a place; `anchor` is start, middle or end."""
    return (
        f'<text x="{x:.2f}" y="{y:.2f}" font-family="{FONT}" font-size="{size:g}" font-weight="{weight}" '
        f'fill="{fill}" text-anchor="{anchor}">{escape(words)}</text>'
    )


def text_on(x: float, y: float, words: str, size: float, fill: str, anchor: str = "start", weight: int = 400) -> str:
    """Words over a picture, on a white plate as wide as they are by a usual letter."""
    wide = len(words) * size * USUAL_LETTER
    left = x - {"start": 0.0, "middle": wide / 2, "end": wide}[anchor]
    plate = path(rectangle(left - 0.5, y - 0.78 * size, wide + 1, size), fill="#fff", opacity=0.8)
    return plate + text(x, y, words, size, fill, anchor, weight)


def disc(x: float, y: float, radius: float) -> str:
    """Path commands of a disc."""
    half = f"a{radius:g} {radius:g} 0 1 0"
    return f"M{x - radius:.2f} {y:.2f}{half} {2 * radius:g} 0{half} {-2 * radius:g} 0z"


def rectangle(x: float, y: float, width: float, height: float) -> str:
    """Path commands of a rectangle."""
    return f"M{x:.2f} {y:.2f}h{width:.2f}v{height:.2f}h{-width:.2f}z"
