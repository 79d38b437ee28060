"""What each further trip brings, a line each: `fourth trip: Fri 5 March, +0.5: QK3RED`.

From the values of `outlook.trips`.
"""

from __future__ import annotations

from collections.abc import Sequence

from pipeline.outlook.trips import Trips
from pipeline.wording import formats

LEAST_TOLD = 0.05


def trips_words(trips: Sequence[Trips]) -> tuple[str, ...]:
    """A line a row; contacts are those that the row has more than the one before it, of agendas without night cost."""
    return tuple(_line(one, before) for one, before in zip(trips, [None, *trips], strict=False))


def _line(one: Trips, before: Trips | None) -> str:
    added = one.contacts_expected - (before.contacts_expected if before else 0.0)
    head = f"{formats.ORDINALS[one.count - 1]} trip" if one.count <= len(formats.ORDINALS) else f"trip {one.count}"
    if one.count > 1 and before is None:
        head = f"{one.count} trips"
    nights = formats.listed([formats.day_and_month(night) for night in one.nights_added])
    calls = f": {formats.listed(one.partners_added)}" if one.partners_added else ""
    gone = [night for night in before.nights if night not in one.nights] if before else []
    without = f", without {formats.listed([formats.day_and_month(night) for night in gone])}" if gone else ""
    chosen = " (this agenda)" if one.chosen else ""
    more = "less than 0.1" if abs(added) < LEAST_TOLD else f"{'−' if added < 0 else '+'}{abs(added):.1f}"
    return f"{head}: {nights}{without}, {more}{calls}{chosen}"
