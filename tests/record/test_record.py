"""The record: reading its three files with all faults at once, and setting slots without touching the rest.

What the files hold: the contract in DEVELOPERS.md; how YAML may be laid out: YAML 1.2.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

import pytest
import yaml
from filelock import FileLock
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.inputs.faults import InputFaults
from pipeline.record.inputs import Inputs, read_inputs
from pipeline.record.model import Answer, Correction, Record
from pipeline.record.writing import RecordBusy, SlotOutcome, SlotState, outcome_of, record_lock, set_slots
from tests.inputs.helpers import SEASON, faults_of, lay_out, swapped

SPAN = (dt.datetime(2027, 3, 1, 15, tzinfo=dt.UTC), dt.datetime(2027, 4, 1, 15, tzinfo=dt.UTC))


def at(day: int, hour: int, minute: int = 15, month: int = 3) -> dt.datetime:
    return dt.datetime(2027, month, day, hour, minute, tzinfo=dt.UTC)


def state_of(label: str = "A", day: int = 13, state: str = "confirmed", partner: str = "QF4LUM") -> SlotState:
    answered = dt.datetime(2027, 2, 11, 10, 5, tzinfo=dt.UTC)
    return SlotState(partner, label, at(day, 1), at(day, 2), state, "QM7TOR", answered)


def went(partner: str, outcome: str, label: str = "A", day: int = 13) -> SlotOutcome:
    return outcome_of(partner, label, at(day, 1), at(day, 2), "QM7TOR", outcome)


def with_record(folder: Path, **files: str | bytes) -> Path:
    """The usual season with files in its record, given by stem."""
    path = lay_out(folder)
    (folder / "record").mkdir(exist_ok=True)
    for stem, content in files.items():
        name = "sent.jsonl" if stem == "sent" else f"{stem}.yaml"
        (folder / "record" / name).write_bytes(content.encode() if isinstance(content, str) else content)
    return path


def read(folder: Path, **files: str | bytes) -> Inputs:
    return read_inputs(with_record(folder, **files))


def put(folder: Path, *states: SlotState) -> Any:
    with record_lock(folder):
        return set_slots(folder, states, SPAN, "QM7TOR", 60)


# --- reading ---------------------------------------------------------------------------------------------------------


def test_without_a_record_there_is_an_empty_one(tmp_path: Path) -> None:
    assert read_inputs(lay_out(tmp_path)).record == Record()
    (tmp_path / "record").mkdir()
    assert read_inputs(tmp_path / "season.yaml").record == Record()


@pytest.mark.parametrize("text", ["", "\n\n", "# nothing yet\n", "slots:\n", "slots: []\n", "slots: null # none\n"])
def test_an_agenda_without_slots(text: str, tmp_path: Path) -> None:
    inputs = read(tmp_path, agenda=text)
    assert inputs.record == Record()
    assert inputs.files["record/agenda.yaml"] == hashlib.sha256(text.encode()).hexdigest()


def test_slots_with_everything_and_with_the_least(tmp_path: Path) -> None:
    text = """\
slots:
  - {partner: QF4LUM, label: A, start: 2027-03-13T01:15Z, end: 2027-03-13T01:45Z, state: confirmed, operator: QM7TOR, answered: 2027-02-11}
  - {partner: qf4lum, start: "2027-03-13T22:15-03:00", state: Fixed}
"""  # noqa: E501
    inputs = read(tmp_path, agenda=text)
    day = dt.datetime(2027, 2, 11, 23, 59, tzinfo=dt.UTC)
    assert inputs.record.answers == (
        Answer("QF4LUM", "A", at(13, 1), at(13, 1, 45), "confirmed", "QM7TOR", 2, day),
        Answer("QF4LUM", "", at(14, 1), at(14, 2), "fixed", "QM7TOR", 3),
    )
    assert inputs.warnings == ()
    season = swapped(SEASON, "{call: QM7TOR, name: Ines Calder}", "QM8TOR, QM7TOR")
    (tmp_path / "season.yaml").write_text(swapped(season, "slot_minutes: 60", "slot_minutes: 45"), encoding="utf-8")
    answer = read_inputs(tmp_path / "season.yaml").record.answers[1]
    assert (answer.end_utc, answer.operator) == (at(14, 2, 0), "QM8TOR")


def test_what_the_season_does_not_know_is_told_and_left(tmp_path: Path) -> None:
    text = """\
slots:
  - {partner: QF4LUN, start: 2027-03-13T01:15Z, state: confirmed}
  - {partner: QX1ABC, start: 2026-03-13T01:15Z, state: confirmed}
  - {partner: QF4LUM, start: 2027-03-14T01:15Z, state: confirmed, operator: QM9ZZZ}
"""
    inputs = read(tmp_path, agenda=text)
    assert len(inputs.record.answers) == 3
    assert inputs.warnings == (
        "record/agenda.yaml, line 2: the partner QF4LUN has no station file in this folder; did you mean QF4LUM?",
        "record/agenda.yaml, line 4: QM9ZZZ is no operator of this season; there is QM7TOR.",
    )


def test_all_faults_of_all_files_at_once(tmp_path: Path) -> None:
    agenda = """\
slots:
  - {partner: QF4LUM, label: 7, start: 2027-03-13T01:15, state: maybe, foo: 3}
  - 7
  - {partner: QF4LUM, start: 2027-03-14T01:15Z, end: 2027-03-14T01:15Z, state: confirmed}
  - {partner: QF4LUM, start: 13.3.2027, state: confirmed, answered: yesterday}
  - {start: 2027-03-15T01:15:30Z, state: confirmed}
  - {partner: QF4LUM, label: A, start: 2027-03-16T01:15Z, state: declined}
  - {partner: QF4LUM, label: A, start: 2027-03-16T01:15Z, state: confirmed}
  - {partner: QF4LUM, start: 2027-03-17, end: 2027-03-19T00:00Z, state: confirmed}
slotz: 3
"""
    corrections = """\
corrections:
  - {call: QF4LUM, band: 3cm, transmit_db: -1.5, receive_db: 99}
  - {call: QF4LUM, band: 3 cm, reviewed: 2027-04-02}
  - {call: QM7TOR, band: 3cm}
  - {call: QM7TOR, band: 3cm}
"""
    faults = faults_of(with_record(tmp_path, agenda=agenda, corrections=corrections, sent='{"event": "sent"}\n'))
    assert [str(fault) for fault in faults] == [
        f"record/agenda.yaml, line {line}: {sentence}"
        for line, sentence in (
            (2, "slots.1.label is 7; the letter of a slot is meant: A, B, C."),
            (
                2,
                "slots.1.start is '2027-03-13T01:15'; the zone is missing; write 2027-03-13T01:15Z if the time is UTC.",
            ),
            (2, "slots.1.state is 'maybe'; accepted: confirmed, tentative, declined, fixed."),
            (
                2,
                "unknown key 'foo' in slots.1; "
                "there is no key like it; take it out, or put # before the line to keep it as a note.",
            ),
            (3, "slots.2 is 7; keys and values are meant, such as {partner: ..., start: ...}."),
            (4, "slots.3.end is '2027-03-14T01:15Z'; that is before or at its start 2027-03-14T01:15Z."),
            (5, "slots.4.start is '13.3.2027'; the time of day is missing; write for instance 2027-03-13T01:15Z."),
            (5, "slots.4.answered is 'yesterday'; a date is meant, written as 2027-03-20."),
            (6, "slots.5.start is '2027-03-15T01:15:30Z'; whole minutes are meant, such as 2027-03-15T01:15Z."),
            (6, "slots.5.partner is missing; write for instance `partner: QF4LUM`."),
            (8, "the slot of QF4LUM at 2027-03-16T01:15Z stands in line 7 as well; keep one of the lines."),
            (9, "slots.8.start is '2027-03-17'; the time of day is missing; write for instance 2027-03-17T01:15Z."),
            (10, "unknown key 'slotz'; did you mean 'slots'?"),
        )
    ] + [
        "record/corrections.yaml, line 2: corrections.1.receive_db is 99; a number is meant, -40 to 40.",
        "record/corrections.yaml, line 3: corrections.2.band is '3 cm'; did you mean '3cm'?",
        "record/corrections.yaml, line 5: QM7TOR on 3cm stands in line 4 as well; keep one of the lines.",
        "record/sent.jsonl, line 1: the line is no entry of this program; put the line back as it was, from a copy; "
        "what a lost line says was sent would be sent again.",
    ]


def test_faults_of_stations_and_of_the_record_come_together(tmp_path: Path) -> None:
    path = with_record(tmp_path, agenda="slots: 3\n")
    (tmp_path / "qf4lum.yaml").write_text("call: QF4LUM\n", encoding="utf-8")
    assert {fault.file for fault in faults_of(path)} == {"record/agenda.yaml", "qf4lum.yaml"}


@pytest.mark.parametrize(
    "content",
    [b"\xff\xfe\x00", b"slots: [", b"- a\n", b"slots: {a: 1}", b"a" * 1_000_001, b"slots: &a [*a]", b"\x1b[31m: 1",
     b"slots:\n\t- a", b"slots: !!python/object:os.system {}", b"[" * 5000, b"slots:\n  - [[[[1]]]]"],
)  # fmt: skip
def test_hostile_files_are_told_in_one_line_each(content: bytes, tmp_path: Path) -> None:
    for name in ("agenda", "corrections"):
        for fault in faults_of(with_record(tmp_path, **{name: content})):
            assert fault.file == f"record/{name}.yaml"
            assert str(fault).isprintable()
        (tmp_path / "record" / f"{name}.yaml").unlink()


@pytest.mark.parametrize(
    "content",
    [b"[]\n", b"7\n", b"{}\n", b'{"event": 7}\n', b'{"event": "dance", "message_id": "x"}\n', b"[" * 100_000 + b"\n",
     b'{"event": "sent", "message_id": "never begun"}\n', b"\xff\n", b'{"event": "sending", "message_id": "\\u001b"}\n',
     b"1" * 5000 + b"\n", b"\0" * 50 + b"\n{}\n"],
)  # fmt: skip
def test_a_hostile_ledger_is_told_in_one_line(content: bytes, tmp_path: Path) -> None:
    for fault in faults_of(with_record(tmp_path, sent=content)):
        assert (fault.file, fault.line) == ("record/sent.jsonl", 1) or fault.line == 2
        assert str(fault).isprintable()


def test_corrections(tmp_path: Path) -> None:
    text = """\
corrections:
  # the night of 13 March
  - {call: QF4LUM, band: 3cm, transmit_db: -1.5, receive_db: 0.5, transmit_uncertainty_db: 0.8, receive_uncertainty_db: 1, reviewed: 2027-03-20}
"""  # noqa: E501
    assert read(tmp_path, corrections=text).record.corrections == (
        Correction("QF4LUM", "3cm", -1.5, 0.5, 0.8, 1.0, "2027-03-20"),
    )


def test_the_record_changes_the_plan_and_the_ledger_does_not(tmp_path: Path) -> None:
    before = read(tmp_path, agenda="slots: []\n").digest
    assert read(tmp_path, sent="\n").digest == before
    assert read(tmp_path, sent="\n").record.ledger_sha256 == hashlib.sha256(b"\n").hexdigest()
    assert read(tmp_path, agenda="slots: []\n# more\n").digest != before


# --- writing ---------------------------------------------------------------------------------------------------------

LAYOUTS = {
    "none": None,
    "comments": "# only a comment\n",
    "empty list": "slots: []  # none yet\n",
    "no value": "# head\nslots:\n# tail\n",
    "a line each": (
        "# head\nslots:\n  # first\n"
        "  - {partner: QF4LUM, label: A, start: 2027-03-12T01:15Z, state: tentative}  # he said maybe\n"
        "  - {partner: QJ2KAW, label: A, start: 2027-03-12T03:15Z, state: fixed}\n  # last\n\n# end"
    ),
    "windows": (
        'slots:\r\n- partner: "QF4LUM"   # who\r\n  label: A\r\n  # a comment inside\r\n'
        "  start: 2027-03-12T01:15Z # when\r\n  operator:\r\n  state: tentative\r\n\r\n# tail\r\n"
    ),
    "in brackets": "slots: [{partner: QF4LUM, label: A, start: 2027-03-12T01:15Z, state: tentative}] # all\n",
    "over lines": (
        "---\nslots:\n  - {partner: QF4LUM,\n     label: A,  # x\n"
        "     start: 2027-03-12T01:15Z, state: tentative, answered: 2027-01-01}\n...\n"
    ),
    "no label, same start": "slots:\n-\n  partner: QF4LUM\n  state: tentative\n  start: 2027-03-13T01:15Z",
}


@pytest.mark.parametrize("layout", LAYOUTS)
def test_setting_slots_keeps_every_other_word(layout: str, tmp_path: Path) -> None:
    text = LAYOUTS[layout]
    path = with_record(tmp_path, **({} if text is None else {"agenda": text}))
    agenda = tmp_path / "record" / "agenda.yaml"
    changes = put(tmp_path, state_of(), state_of("B", 14, "declined"))
    assert [change.after.label for change in changes] == ["A", "B"]
    after = agenda.read_bytes().decode()
    answers = {(answer.partner, answer.label): answer for answer in read_inputs(path).record.answers}
    assert (answers["QF4LUM", "A"].start_utc, answers["QF4LUM", "A"].end_utc) == (at(13, 1), at(13, 2))
    assert answers["QF4LUM", "A"].state == "confirmed"
    assert answers["QF4LUM", "B"].state == "declined"
    assert answers["QF4LUM", "A"].answered == dt.datetime(2027, 2, 11, 10, 5, tzinfo=dt.UTC)
    for comment in [line[line.index("#") :] for line in (text or "").splitlines() if "#" in line]:
        assert comment in after
    others = [line for line in (text or "").splitlines() if "QJ2KAW" in line]
    assert all(line in after.splitlines() for line in others)
    assert len(answers) == 2 + len(others)
    assert ("\r\n" in after) == ("\r\n" in (text or ""))
    assert after.count("\r\n") in (0, after.count("\n"))
    # Every key that was there before comes once, and PyYAML's own loader reads the same.
    assert len(yaml.load(after, Loader=yaml.BaseLoader)["slots"]) == len(answers)
    # A second time there is nothing to do, and nothing is written.
    moment = agenda.stat().st_mtime_ns
    assert put(tmp_path, state_of(), state_of("B", 14, "declined")) == []
    assert agenda.stat().st_mtime_ns == moment


def test_a_letter_is_one_slot_within_its_period_only(tmp_path: Path) -> None:
    before = "slots:\n  - {partner: QF4LUM, label: A, start: 2027-02-20T01:15Z, state: confirmed}\n"
    path = with_record(tmp_path, agenda=before)
    put(tmp_path, state_of())
    assert [answer.start_utc for answer in read_inputs(path).record.answers] == [at(20, 1, month=2), at(13, 1)]
    # Offered anew at another time, it is the same slot.
    changes = put(tmp_path, state_of(day=19))
    assert changes[0].before is not None
    assert [answer.start_utc for answer in read_inputs(path).record.answers] == [at(20, 1, month=2), at(19, 1)]


def test_a_layout_beyond_us_is_left_with_the_line_to_write(tmp_path: Path) -> None:
    with_record(tmp_path, agenda="{}\n")
    with pytest.raises(InputFaults, match="laid out in an unusual way; change it by hand, the line is `"):
        put(tmp_path, state_of())
    assert (tmp_path / "record" / "agenda.yaml").read_text(encoding="utf-8") == "{}\n"


def test_an_agenda_at_fault_is_told_and_left(tmp_path: Path) -> None:
    with_record(tmp_path, agenda="slots: [}\n")
    with pytest.raises(InputFaults):
        put(tmp_path, state_of())
    assert (tmp_path / "record" / "agenda.yaml").read_text(encoding="utf-8") == "slots: [}\n"


STEPS = ("pipeline.record.writing.write_file", "os.fsync", "pathlib.Path.chmod", "pathlib.Path.replace")


@pytest.mark.parametrize("step", STEPS)
@pytest.mark.parametrize("error", [OSError(28, "No space left on device"), KeyboardInterrupt()])
def test_a_failure_at_any_step_leaves_the_old_file_whole(
    step: str, error: BaseException, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = LAYOUTS["a line each"]
    assert text is not None
    with_record(tmp_path, agenda=text)

    def fails(*_: Any, **__: Any) -> None:
        raise error

    with monkeypatch.context() as patch:
        patch.setattr(step, fails)
        with pytest.raises((InputFaults, KeyboardInterrupt)):
            put(tmp_path, state_of())
    assert (tmp_path / "record" / "agenda.yaml").read_text(encoding="utf-8") == text
    assert sorted(path.name for path in (tmp_path / "record").iterdir()) == [".lock", "agenda.yaml"]
    assert put(tmp_path, state_of())


def test_mode_and_link_of_the_agenda_stay(tmp_path: Path) -> None:
    with_record(tmp_path)
    real = tmp_path / "elsewhere.yaml"
    real.write_text("slots: []\n", encoding="utf-8")
    real.chmod(0o600)
    (tmp_path / "record" / "agenda.yaml").symlink_to(real)
    put(tmp_path, state_of())
    assert (tmp_path / "record" / "agenda.yaml").is_symlink()
    assert "confirmed" in real.read_text(encoding="utf-8")
    assert real.stat().st_mode & 0o777 == 0o600


def test_one_run_at_a_time_and_a_killed_one_holds_nobody_up(tmp_path: Path) -> None:
    with_record(tmp_path)
    with (
        FileLock(tmp_path / "record" / ".lock"),
        pytest.raises(RecordBusy, match="another run of this program"),
        record_lock(tmp_path, wait_s=0.05),
    ):
        pass
    script = (
        "import os, sys; from pathlib import Path\n"
        "from pipeline.record.writing import record_lock\n"
        "with record_lock(Path(sys.argv[1])): os._exit(9)"
    )
    done = subprocess.run([sys.executable, "-c", script, str(tmp_path)], check=False)
    assert done.returncode == 9
    with record_lock(tmp_path, wait_s=0.05):
        assert put_again(tmp_path)


def put_again(folder: Path) -> Any:
    return set_slots(folder, [state_of()], SPAN, "QM7TOR", 60)


def test_a_record_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    lay_out(tmp_path)
    (tmp_path / "record").write_text("", encoding="utf-8")
    assert faults_of(tmp_path / "season.yaml")[0].message.startswith("this is a file;")
    with pytest.raises(InputFaults, match="cannot write here"), record_lock(tmp_path):
        pass


COMMENTS = st.text(st.characters(codec="ascii", min_codepoint=32, max_codepoint=126), max_size=20)


def kept(text: str) -> list[str]:
    """Everything from the first # of each line on."""
    return [line[line.index("#") :] for line in text.splitlines() if "#" in line]


@settings(max_examples=40)
@given(st.lists(st.tuples(st.integers(1, 28), COMMENTS, st.booleans()), max_size=6, unique_by=lambda row: row[0]))
def test_any_comments_anywhere_survive(rows: list[tuple[int, str, bool]]) -> None:
    lines = ["slots:"]
    for day, comment, above in rows:
        slot = f"  - {{partner: QF4LUM, start: 2027-03-{day:02d}T01:15Z, state: tentative}}"
        lines += [f"# {comment}", slot] if above else [f"{slot}  # {comment}"]
    text = "\n".join(lines) + "\n"
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "record").mkdir()
        (folder / "record" / "agenda.yaml").write_text(text, encoding="utf-8")
        put(folder, state_of("B", 14), *[state_of("", day) for day, _, _ in rows[:1]])
        after = (folder / "record" / "agenda.yaml").read_text(encoding="utf-8")
    assert kept(after) == kept(text)
    wanted = {day: "confirmed" if index == 0 else "tentative" for index, (day, _, _) in enumerate(rows)} | {
        14: "confirmed"
    }
    found = {int(slot["start"][8:10]): slot["state"] for slot in yaml.load(after, Loader=yaml.BaseLoader)["slots"]}
    assert found == wanted


OUTCOMES_AGENDA = """\
# ours
slots:
  - {partner: QF4LUM, label: A, start: "2027-03-12T22:15-03:00", state: Confirmed, answered: 2027-02-11}  # by telephone
  - partner: QJ2KAW
    start: 2027-03-13T01:15Z
    state: fixed
# end
"""


def test_an_outcome_touches_its_own_line_and_there_one_key(tmp_path: Path) -> None:
    path = with_record(tmp_path, agenda=OUTCOMES_AGENDA)
    put(tmp_path, went("QF4LUM", "made"), went("QJ2KAW", "absent"), went("QF4LUM", "rained", "B", 14))
    assert (tmp_path / "record" / "agenda.yaml").read_text(encoding="utf-8") == (
        OUTCOMES_AGENDA.replace("answered: 2027-02-11}", "answered: 2027-02-11, outcome: made}").replace(
            "    state: fixed\n",
            "    state: fixed\n    outcome: absent\n  - {partner: QF4LUM, label: B, start: 2027-03-14T01:15Z, "
            "end: 2027-03-14T02:15Z, state: fixed, operator: QM7TOR, outcome: rained}\n",
        )
    )
    assert [lock.outcome for lock in read_inputs(path).record.answers] == ["made", "absent", "rained"]
    assert put(tmp_path, went("QF4LUM", "made")) == []
    assert put(tmp_path, went("QF4LUM", "failed"))[0].before.outcome == "made"  # type: ignore[union-attr]


def test_under_the_letter_of_a_lost_night_another_time_gets_a_line_of_its_own(tmp_path: Path) -> None:
    """The lost night is history, and from its date on is planned."""
    path = with_record(tmp_path, agenda="slots: []\n")
    put(tmp_path, state_of(), went("QF4LUM", "rained"), state_of(day=19))
    answers = read_inputs(path).record.answers
    assert [(lock.start_utc, lock.state, lock.outcome) for lock in answers] == [
        (at(13, 1), "confirmed", "rained"),
        (at(19, 1), "confirmed", ""),
    ]
    put(tmp_path, went("QF4LUM", "failed", day=19))
    assert [lock.outcome for lock in read_inputs(path).record.answers] == ["rained", "failed"]


def test_an_outcome_that_is_none_is_told(tmp_path: Path) -> None:
    text = "slots:\n  - {partner: QF4LUM, start: 2027-03-13T01:15Z, state: confirmed, outcome: won}\n"
    assert [str(fault) for fault in faults_of(with_record(tmp_path, agenda=text))] == [
        "record/agenda.yaml, line 2: slots.1.outcome is 'won'; accepted: made, failed, absent, rained."
    ]
