"""Writing `record/corrections.yaml`: what a review has learnt, the whole file in one step under the record's lock.

Stations that the review did not meet keep their lines.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from pathlib import Path

from pipeline.record.model import CORRECTIONS, FOLDER, Correction
from pipeline.record.writing import write_whole

PLAIN = re.compile(r"[A-Za-z0-9][A-Za-z0-9 /()-]*", re.ASCII)
HEAD = """\
# What reviews of the log have learnt: decibels that a station sends or hears better than its file says, and how sure
# that is (one standard deviation). The plan adds them. `evening_db` is how much stations differ from one evening to
# another, `presence` the share of agreed slots in which a partner was there; home's is that of all partners.
# `review --apply` writes this file anew; delete it, or a line of it, to take corrections back. Later reviews learn from
# the attempts in attempts.csv beside it as well; delete lines there to have them forgotten.
corrections:
"""


def merged(known: Sequence[Correction], learnt: Sequence[Correction]) -> tuple[Correction, ...]:
    """The corrections known so far, those of the same station and band replaced, new ones behind."""
    fresh = {(one.call, one.band): one for one in learnt}
    kept = [fresh.pop((one.call, one.band), one) for one in known]
    return (*kept, *fresh.values())


def corrections_text(corrections: Sequence[Correction]) -> str:
    """The whole file; a hundredth of a decibel is finer than anything known."""
    return HEAD + "".join(f"  - {_line(one)}\n" for one in corrections)


def _line(one: Correction) -> str:
    values = [f"call: {one.call}", f"band: {one.band}"]
    if one.tells_sides:
        names = ["transmit_db", "receive_db", "transmit_uncertainty_db", "receive_uncertainty_db"]
        values += [f"{name}: {_number(getattr(one, name))}" for name in names]
    if one.evening_db:
        values.append(f"evening_db: {_number(one.evening_db)}")
    if one.presence is not None:
        values.append(f"presence: {_number(one.presence)}")
    return "{" + ", ".join([*values, f"reviewed: {_words(one.reviewed)}"]) + "}"


def _words(text: str) -> str:
    """Plain where YAML takes it so, else in double quotes, which JSON and YAML share."""
    return text if PLAIN.fullmatch(text) else json.dumps(text, ensure_ascii=False)


def _number(value: float) -> str:
    """Two digits, no negative zero."""
    return f"{round(value, 2) + 0.0:.2f}"


def write_learnt(folder: Path, beside: Mapping[str, str], corrections: Sequence[Correction] | None) -> list[Path]:
    """Put the files `beside` and then the corrections, if any are given, into the record of a season's folder.

    The caller holds the lock since before it read what these follow from. Returns the files. Raises InputFaults where
    they cannot be written.
    """
    texts = dict(beside) if corrections is None else {**beside, CORRECTIONS: corrections_text(corrections)}
    place = folder / FOLDER
    for name, text in texts.items():
        write_whole(place / name, text)
    return [place / name for name in texts]
