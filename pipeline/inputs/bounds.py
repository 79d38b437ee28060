"""What no file may exceed, and the words for what does: sizes, counts, years, figures; one place for all readers.

Every bound is far beyond what an operator has; whatever exceeds it is told with the bound, and nothing is written.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from pathlib import Path


class TooMuch(ValueError):
    """Something exceeds its bound; the text is the half of a sentence that says what, and by which bound."""


@dataclass(frozen=True)
class Size:
    """The largest size of a kind of file, and what is said after `is over 1 MB` of a larger one.

    `most_nodes` are the keys and values that a file in YAML may have.
    """

    largest_bytes: int
    advice: str
    most_nodes: int = 50_000  # a horizon of 4000 points in the file itself has 20,000

    def words(self, what: str = "the file") -> str:
        """`the file is over 1 MB; a text of some pages is meant`."""
        shown = f"{self.largest_bytes / 1e6:g} MB" if self.largest_bytes >= 100_000 else f"{self.largest_bytes} bytes"
        return f"{what} is over {shown}{self.advice}"

    def read(self, path: Path, what: str = "the file") -> bytes:
        """The whole file. Raises TooMuch where it is larger, OSError where it cannot be read."""
        with path.open("rb") as stream:
            raw = stream.read(self.largest_bytes + 1)
        if len(raw) > self.largest_bytes:
            raise TooMuch(self.words(what))
        return raw


# A station with a surveyed horizon of a thousand points has some 50 kB.
TEXT = Size(1_000_000, "; a text of some pages is meant.")
# The record of ten years with a hundred partners has 6,000 slots and attempts: 1 MB each, and a ledger of 5 MB.
RECORD = Size(5_000_000, "; move the slots of former years to another file.", 400_000)
LEDGER = Size(20_000_000, "; it is no ledger of this program.")
LOG = Size(5_000_000, "; cut out the season's records.")
# A hundred thousand mails, far beyond any season.
REPLIES_READ = Size(6_500_000, "; delete it: all answers are then shown once more, and no harm is done.")
UID_KEY = Size(1_000, "")
# An answer with our letter quoted and attached stays far below; the parser takes at most some seconds for this much.
REPLY = Size(2_000_000, ", and no answer is that long")
# A mailbox that has grown for years is gone through in seconds up to here.
MAILBOX = Size(100_000_000, "; copy the answers into a folder of their own")
LETTER = Size(10_000_000, ", which mail servers refuse")
# What runs wrote beside plans and letters; a year with a hundred partners has a twentieth.
OWN = Size(20_000_000, ", which is none of this program's")

MOST_FILES = 5_000  # in a folder of replies
MOST_PARTS = 100  # of a mail
MOST_EVENTS = 100  # of a calendar
MOST_LINES_OF_AN_ANSWER = 200  # of a mail server, at each step
# Keys of one mapping: a band table has thirty, and each unknown one is looked for among the known.
MOST_KEYS = 500
MOST_COLUMNS = 500
# Longer lists than any station has; a horizon of a thousand points is still welcome.
LONGEST_LIST = 4_000
# The ledger and the calendars of mail programs count how often a slot was changed.
MOST_CHANGES = 999_999_999
HIGHEST_MHZ = 1e6
HIGHEST_DB = 200.0
# The longest dishes that have worked over the Moon have beams of some hundredths of a degree (judgement).
NARROWEST_BEAM_DEG = 0.01
# The ephemeris reaches no farther, and every step to another zone stays inside the calendar.
FIRST_YEAR, LAST_YEAR = 1900, 2099


def in_utc(moment: dt.datetime) -> dt.datetime:
    """An aware instant in UTC. Raises TooMuch outside the years that files may name, ValueError without a zone."""
    if not FIRST_YEAR <= moment.year <= LAST_YEAR:
        raise TooMuch(f"the year is meant to be {FIRST_YEAR} to {LAST_YEAR}")
    if moment.tzinfo is None:
        raise ValueError("the zone is missing")
    return moment.astimezone(dt.UTC)
