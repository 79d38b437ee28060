"""What a value of the command line can be meant as: the words to type for it, and in which case."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from pipeline.commands.at_hand import AtHand


@dataclass(frozen=True)
class Way:
    """The words to type for a value; `when` is the case in which it is meant; `options` go with it.

    Without words the option itself falls away.
    """

    words: tuple[str, ...]
    when: str = ""
    options: tuple[str, ...] = ()


@dataclass(frozen=True)
class Read:
    """All ways in which a value can be meant, and what is to be said of it."""

    ways: tuple[Way, ...] = ()
    why: str = ""


@dataclass(frozen=True)
class Asked:
    """Where a value stands: command and option (empty for an argument), the call and the night beside it."""

    command: str
    option: str
    at_hand: AtHand
    call: str = ""
    names_zone: bool = False
    night: dt.date | None = None
