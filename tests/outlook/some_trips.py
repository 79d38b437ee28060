"""Trips that several tests of the pages share: what one, two, three ... set-ups bring, nothing else of them told."""

import datetime as dt

from pipeline.outlook.trips import Trips


def some_trips(*contacts: float, chosen: int | None) -> tuple[Trips, ...]:
    """So many contacts from one night on; the agenda has `chosen` of them."""
    nights = [dt.date(2027, 3, 1) + dt.timedelta(days=day) for day in range(len(contacts))]
    return tuple(
        Trips(tuple(nights[:count]), (nights[count - 1],), (), value, 3.0 * count, count == chosen)
        for count, value in enumerate(contacts, start=1)
    )
