"""What a log says of one attempt, and what is odd about it. From ADIF records or the sheets' log.csv; nothing computed.

Reports are signal-to-noise ratios in 2500 Hz where the operators gave figures, and words where they listened by ear.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass


@dataclass(frozen=True)
class LogEntry:
    """One attempt, completed or not; `time_utc` is aware, in UTC. `operator` is the call used at home.

    `report_sent` is what home gave: the partner's signal at home. `report_received` is what the partner gave: home's
    signal at the partner. The `_db` forms are None where no figure was given. `heard` says whether home heard the
    partner: True, False, or None where the log does not tell. `moonbounce` is False where the contact went another
    way. The sheets' log.csv tells the slot as well, ADIF does not. It may tell how many periods each end listened in
    and how many of them it decoded, None where it does not, and whether a program guessed the decodes with help of what
    was expected. `silent` is an agreed slot of which no log has a line, `absent` one in which an end was not there;
    neither was completed.
    """

    file: str
    line: int
    call: str
    operator: str
    time_utc: dt.datetime
    band: str
    frequency_mhz: float | None
    mode: str
    report_sent: str
    report_received: str
    report_sent_db: float | None
    report_received_db: float | None
    completed: bool
    heard: bool | None
    moonbounce: bool
    remarks: str
    slot_start_utc: dt.datetime | None = None
    slot_end_utc: dt.datetime | None = None
    periods_tried_at_home: int | None = None
    periods_heard_at_home: int | None = None
    periods_tried_at_partner: int | None = None
    periods_heard_at_partner: int | None = None
    guessed_at_home: bool = False
    guessed_at_partner: bool = False
    silent: bool = False
    absent: bool = False


@dataclass(frozen=True)
class Finding:
    """One oddity of a log: what it is, what would be right, and whether the record is used all the same.

    Where it `asks`, nothing is to be learnt from the log before it is answered.
    """

    file: str
    line: int
    call: str
    what: str
    advice: str
    used: bool
    asks: bool = False

    def __str__(self) -> str:
        return f"{self.file}, line {self.line}: {self.what}; {self.advice}"
