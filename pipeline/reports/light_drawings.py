"""A page's drawings as few elements, for the PDF engine, which pays by the element; nothing looks otherwise.

Words of one look that follow one another become one element in which every letter has its place, by the widths of the
pages' own face: the engine sets letter by letter anyway. Marks that return become pictures, of which one is read once.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from html import unescape
from itertools import accumulate
from urllib.parse import quote

from markupsafe import escape

from pipeline.reports import fonts

# As `svg.text` writes one.
TEXT = re.compile(
    r'<text x="(?P<x>[^"]*)" y="(?P<y>[^"]*)" (?P<look>font-family="[^"]*" font-size="(?P<size>[^"]*)" '
    r'font-weight="(?P<weight>[^"]*)" fill="[^"]*") text-anchor="(?P<anchor>[^"]*)">(?P<words>[^<]*)</text>'
)
RUN = re.compile(rf"(?:{re.sub(r'[?]P<[a-z]+>', '?:', TEXT.pattern)}){{2,}}")
# The share of a text's width that lies left of its place.
BEFORE = {"start": 0.0, "middle": 0.5, "end": 1.0}
# Small drawings, as `svg.svg` writes one: what stands before its class, behind it, its title and the rest.
MARK = re.compile(r'(<svg [^>]*?) class="(mark|disc|swatch)" role="img"([^>]*>)<title>([^<]*)</title>(.*?</svg>)')
# What an attribute and an address can hold as it is.
PLAIN = " ='/:"


def light(html: str) -> str:
    """A page for the PDF engine."""
    return with_pictures(with_few_texts(html))


def with_pictures(html: str) -> str:
    """A page whose small drawings are pictures; their titles stand in for them."""
    return MARK.sub(_picture, html)


def _picture(mark: re.Match[str]) -> str:
    before, css_class, behind, title, rest = mark.groups()
    return f'<img class="{css_class}" alt="{title}" src="{picture_address(f"{before}{behind}{rest}")}">'


def picture_address(drawing: str) -> str:
    """A drawing as the address of a picture."""
    plain = str(drawing).replace('"', "'")
    return f"data:image/svg+xml,{quote(plain, PLAIN)}"


def with_few_texts(html: str) -> str:
    """A page whose drawings have one text element where several of one look followed one another."""
    return RUN.sub(lambda run: _joined(run[0]), html)


def _joined(run: str) -> str:
    """Text elements as one for each look, in the order in which the looks begin."""
    looks: dict[str, list[Words]] = {}
    alone = []
    for one in TEXT.finditer(run):
        words = " ".join(filter(None, unescape(one["words"]).split(" ")))
        widths = fonts.widths(int(one["weight"]))
        if not all(letter in widths for letter in words):
            alone.append(one[0])
            continue
        ends = [float(one["size"]) * width for width in accumulate((widths[letter] for letter in words), initial=0.0)]
        left = float(one["x"]) - ends[-1] * BEFORE[one["anchor"]]
        if words:
            looks.setdefault(one["look"], []).append(Words([left + end for end in ends], one["y"], words))
    return "".join([*(_element(look, words) for look, words in looks.items()), *alone])


@dataclass(frozen=True)
class Words:
    """Words of a drawing: where each letter begins from the left and the last one ends, points, and how far down."""

    places: list[float]
    y: str
    text: str


def _element(look: str, words: list[Words]) -> str:
    """One element; the blank that parts words for who searches or listens stands at the end of the one before it."""
    across = " ".join(f"{x:.2f}" for one in words for x in one.places)
    down = " ".join(one.y for one in words for _ in one.places)
    return f'<text x="{across}" y="{down}" {look}>{escape(" ".join(one.text for one in words))}</text>'
