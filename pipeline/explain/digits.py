"""Figures with two neighbouring digits exchanged: 10386.1 for 10368.1."""

from __future__ import annotations

import itertools
from collections.abc import Iterator


def with_two_exchanged(value: float, decimals: int = 5) -> Iterator[float]:
    """Every figure that one exchange of two neighbouring digits makes of another, a zero at its end among them."""
    text = f"{abs(value):.{decimals}f}".rstrip("0")
    text = f"{text}0" if len(text.partition(".")[2]) < decimals else text
    sign = -1.0 if value < 0.0 else 1.0
    places = [place for place, letter in enumerate(text) if letter != "."]
    for first, second in itertools.pairwise(places):
        letters = list(text)
        letters[first], letters[second] = letters[second], letters[first]
        changed = sign * float("".join(letters))
        if changed != value:
            yield changed
