"""Lines to type, and the one answer that holds them: what was read, and what to write instead."""

from __future__ import annotations

import re
from collections.abc import Sequence

from pipeline.commands.common import typed


def line(*words: str) -> str:
    """A line to type, with double quotes where a word holds blanks."""
    return typed(" ".join(f'"{word}"' if re.search(r"[\s;&<>|()]", word) or not word else word for word in words))


def message(whys: Sequence[str], lines: Sequence[tuple[str, str]]) -> str:
    """What was read, and what to write instead, each line to type by itself."""
    lines = list({one: (one, when) for one, when in lines}.values())
    reason = "; ".join(dict.fromkeys(whys))
    reason += "" if reason.endswith("for instance") else "; write"
    if len(lines) == 1:
        return f"{reason}\n  {lines[0][0]}"
    return reason + "".join(f"\n  {one}\n    where {when or 'that is meant'}" for one, when in lines)


def in_turn(told: str, lines: Sequence[str]) -> str:
    """Lines that are all meant, one after the other."""
    lines = list(dict.fromkeys(lines))
    return "".join(
        [told if told.endswith("write") or not lines[1:] else f"{told}; write one after the other"]
        + [f"\n  {one}" for one in lines]
    )
