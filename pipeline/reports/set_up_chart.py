"""What each set-up buys: contacts to expect by the number of nights as a small curve, the agenda's own number marked.

From the rows of `outlook.trips`.
"""

from __future__ import annotations

from collections.abc import Sequence

from markupsafe import Markup

from pipeline.outlook.trips import Trips
from pipeline.reports.svg import GREY, HAIR, INK, PALE, TEAL, disc, path, svg, text
from pipeline.wording import formats
from pipeline.wording.month import set_ups_title

SIDE, TOP, FOOT = 9.0, 12.0, 12.0
SIZE = 7.4
# Figures stand above so many points at most; of more the first, the last, the agenda's and some between are told.
MOST_LABELS = 8


def set_up_chart(rows: Sequence[Trips], width: float, height: float = 62.0) -> Markup:
    """The curve in points; nothing without rows."""
    if not rows:
        return Markup("")
    base, top = height - FOOT, TOP
    highest = max(max(row.contacts_expected for row in rows), 0.1)
    step = (width - 2 * SIDE) / max(len(rows) - 1, 1)
    reach = (base - 4 - top) / highest
    places = [(SIDE + i * step, base - 4 - row.contacts_expected * reach) for i, row in enumerate(rows)]
    own = next((i for i, row in enumerate(rows) if row.chosen), len(rows) - 1)
    body = [
        path(f"M0 {base:g}H{width:g}", stroke=HAIR, width=0.5),
        path(_line(places[own:]), stroke=PALE, width=1.0),
        path(_line(places[: own + 1]), stroke=TEAL, width=1.3),
        path(_discs(places[own + 1 :], 1.9), fill="#ffffff", stroke=PALE, width=1.0),
        path(_discs(places[:own], 1.9), fill="#ffffff", stroke=TEAL, width=1.0),
        path(_discs([places[own]], 3.0), fill=TEAL),
    ]
    every = -(-len(rows) // MOST_LABELS)
    for i, (row, (x, y)) in enumerate(zip(rows, places, strict=True)):
        if not (i == own or (i % every == 0 and abs(i - own) >= every)):
            continue
        ink, weight = (INK, 600) if row.chosen else (GREY, 400)
        body.append(text(x, y - 5, formats.contacts(row.contacts_expected), SIZE, ink, "middle", weight))
        body.append(text(x, height - 2.5, str(row.count), SIZE, ink, "middle", weight))
    return svg(width, height, set_ups_title(rows), body, "set-ups")


def _line(places: Sequence[tuple[float, float]]) -> str:
    return "M" + "L".join(f"{x:.2f} {y:.2f}" for x, y in places) if len(places) > 1 else ""


def _discs(places: Sequence[tuple[float, float]], radius: float) -> str:
    """All discs of one kind as one path."""
    return "".join(disc(x, y, radius) for x, y in places)
