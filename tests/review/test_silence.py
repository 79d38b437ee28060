"""Agreed slots without a line in a log: named, asked, answered by option or in the record, never taken for contacts."""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path

import pytest

from pipeline.record.attempts import attempts_text, remembered
from pipeline.record.log_entry import LogEntry
from pipeline.record.model import ABSENT, CONFIRMED, DECLINED, FAILED, MADE, RAINED, Answer, Record
from pipeline.record.outcomes import KnownSlot
from pipeline.record.silence import agreed_slots, entry_of_slot, outcome_noted, unlogged
from tests.review.logs import season
from tests.review.test_review_cli import folder, typed

__all__ = ["folder"]

START = dt.datetime(2027, 3, 20, 18, 0, tzinfo=dt.UTC)
HALF_HOUR = dt.timedelta(minutes=30)
SLOT = KnownSlot("QT8NUI", "QM7TOR", "B", START, START + HALF_HOUR)


def answered(state: str, outcome: str = "") -> Record:
    return Record(answers=(Answer("QT8NUI", "B", START, START + HALF_HOUR, state, "QM7TOR", 2, None, outcome),))


def attempt(call: str, minutes: float) -> LogEntry:
    slot = KnownSlot(call, "QM7TOR", "", START, START + HALF_HOUR)
    made = entry_of_slot(slot, MADE, "3cm", "CW", "log.adi")
    assert made is not None
    when = START + dt.timedelta(minutes=minutes)
    return LogEntry(**{**vars(made), "time_utc": when, "slot_start_utc": None, "slot_end_utc": None})


def test_only_slots_that_stand_are_asked_for() -> None:
    assert agreed_slots(answered(CONFIRMED), ()) == [SLOT]
    assert agreed_slots(answered(CONFIRMED), (SLOT,)) == [SLOT]
    assert agreed_slots(answered(DECLINED), (SLOT,)) == []
    assert agreed_slots(Record(), (SLOT,)) == [SLOT]


@pytest.mark.parametrize(("call", "minutes", "asked"), [("QT8NUI", 40, 0), ("QT8NUI", 90, 1), ("QG8FEN", 5, 1)])
def test_a_line_near_the_slot_answers_for_it(call: str, minutes: float, asked: int) -> None:
    assert len(unlogged([attempt(call, minutes)], [SLOT])) == asked


def test_a_log_does_not_speak_of_other_nights() -> None:
    assert unlogged([attempt("QG8FEN", 60 * 24)], [SLOT]) == []
    assert unlogged([], [SLOT]) == []


def test_what_the_record_knows_is_not_asked(tmp_path: Path) -> None:
    """Rain leaves no attempt; who was absent, failed or is silent is remembered as that."""
    assert outcome_noted(answered(CONFIRMED, FAILED), SLOT) == FAILED
    assert outcome_noted(answered(CONFIRMED), SLOT) == ""
    assert entry_of_slot(SLOT, RAINED, "3cm", "CW", "x") is None
    made = [entry_of_slot(SLOT, outcome, "3cm", "CW", "x") for outcome in ("", ABSENT, FAILED, MADE)]
    kept = [one for one in made if one is not None]
    assert [(one.silent, one.absent, one.completed) for one in kept] == [
        (True, False, False), (False, True, False), (False, False, False), (False, False, True)
    ]  # fmt: skip
    (tmp_path / "record").mkdir()
    (tmp_path / "record" / "attempts.csv").write_text(attempts_text(kept), "utf-8")
    back = remembered(tmp_path)
    assert [(one.silent, one.absent, one.completed) for one in back] == [
        (one.silent, one.absent, one.completed) for one in kept
    ]
    assert season().home.call == "QM7TOR"


def test_the_review_names_silent_slots_and_takes_an_answer(folder: Path) -> None:
    """Two lines of a log are cut out; the record holds their slots. They are named, and told by one option."""
    log = folder / "march.adi"
    head, body = log.read_text("utf-8").split("<EOH>\n")
    lines = [line for line in body.splitlines() if line.strip()]
    cut, kept = lines[1:3], [lines[0], *lines[3:]]
    log.write_text(f"{head}<EOH>\n" + "\n".join(kept) + "\n", "utf-8")
    slots = []
    for line in cut:
        call, date, time = (re.search(rf"<{name}:\d+>(\S+)", line) for name in ("CALL", "QSO_DATE", "TIME_ON"))
        assert call is not None
        assert date is not None
        assert time is not None
        when = dt.datetime.strptime(date[1] + time[1], "%Y%m%d%H%M")
        slots.append(f"  - {{partner: {call[1]}, start: {when:%Y-%m-%dT%H:%M}Z, state: confirmed}}")
    record = folder / "stations" / "record"
    record.mkdir()
    (record / "agenda.yaml").write_text("slots:\n" + "\n".join(slots) + "\n", "utf-8")
    asked = typed(folder, str(log), "--no-pdf", "--apply")
    assert asked.exit_code == 0, asked.output
    assert "2 agreed slots without a line in a log" in asked.stdout
    assert asked.stdout.count("failed, not tried, or nobody there?") == 2
    assert (record / "attempts.csv").read_text("utf-8").count(",silent,") == 2
    assert "nobody there?" in (folder / "out" / "review.html").read_text("utf-8")
    assert "outcome" not in "".join(
        line for line in (record / "agenda.yaml").read_text("utf-8").splitlines() if "confirmed" in line
    )
    told = typed(folder, str(log), "--no-pdf", "--apply", "--unlogged", "absent")
    assert told.exit_code == 0, told.output
    assert "without a line" not in told.stdout
    assert (record / "agenda.yaml").read_text("utf-8").count("absent") == 2
    kept_now = (record / "attempts.csv").read_text("utf-8")
    assert (kept_now.count(",silent,"), kept_now.count(",absent,")) == (0, 2)
    wrong = typed(folder, str(log), "--no-pdf", "--unlogged", "perhaps")
    assert wrong.exit_code == 2
    assert "failed, absent or rained is meant" in wrong.output
