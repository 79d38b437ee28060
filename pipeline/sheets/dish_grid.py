"""How far apart the lines of the pointing table stand: outside slots, in them, and in fall-backs. Steps in minutes."""

from __future__ import annotations

from dataclasses import dataclass

# The finest first; inside, a line a move where there is room, else wider.
OUTSIDE = (5, 10, 15, 20, 30, 60)
INSIDE = (1, 2, 3, 4, 5, 10, 15, 20, 30)


@dataclass(frozen=True)
class Grid:
    """Minutes from line to line: outside slots, in them, and in fall-backs."""

    outside: int
    inside: int
    again: int

    def words(self, with_slots: bool, with_again: bool) -> str:
        """`A line every 30 minutes, every 3 in slots, every 5 in fall-backs, (2) that of slot 2`."""
        told = [f"A line every {self.outside} minutes"]
        if with_slots and self.inside != self.outside:
            told.append(f"every {self.inside} in slots")
        if with_again:
            told.append(f"every {self.again} in fall-backs, their slot's number in brackets")
        return ", ".join(told)


def grids(move_min: int, with_slots: bool, with_again: bool) -> list[Grid]:
    """Grids to try: in slots no finer than a move, in fall-backs no finer than in slots, outside never finer still.

    A slot's lines are the last to be fewer; those of a fall-back before those of an hour in which nobody sends.
    """
    inside = [step for step in INSIDE if step >= move_min] or [INSIDE[-1]]
    if not with_slots:
        return [Grid(step, step, step) for step in OUTSIDE]
    return [
        Grid(max(out, again), step, again)
        for step in inside
        for outside in (OUTSIDE[:-1], OUTSIDE[-1:])
        for again in ([one for one in INSIDE if one >= step] if with_again else [step])
        for out in outside
    ]
