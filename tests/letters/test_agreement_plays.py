"""Plays of letters, answers, forgeries and repetitions, drawn at random: the record holds only what a partner has said.

What was said, and to which time, is kept by the play itself; the commands are those of the user.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import io
import re
import shutil
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from types import SimpleNamespace

import pytest
from hypothesis import HealthCheck, example, given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from pipeline.cli import run
from pipeline.letters.answers import take_proposal
from pipeline.letters.reply_mail import MOST_FILES
from pipeline.record.inputs import read_inputs
from pipeline.record.ledger_writing import LedgerWriter
from tests.letters.season_folder import SENDER, SeasonFolder, lay_out, slot
from tests.letters.test_replies import mail, reply, send

CALL = "QF4LUM"
PARTSTAT = {"yes": "ACCEPTED", "no": "DECLINED", "perhaps": "TENTATIVE"}
STATE = {"yes": "confirmed", "no": "declined", "perhaps": "tentative"}
FORGERIES = (
    "two senders",
    "another sender",
    "failed",
    "another organizer",
    "no mail",
    "another's name",
    "made-up slot",
)
DAYS = (13, 14, 15)
# Other times that every letter tells with the slot, and the day that the partner itself may propose.
OTHERS = {"B": 18, "C": 19}
OWN_DAY = 23


@dataclass
class Play:
    """A season in which one slot is offered, moved and answered; `said` is what the partner said, to which day."""

    season: SeasonFolder
    day: int = DAYS[0]
    sequence: int = 0
    told: list[int] = field(default_factory=list)
    said: set[tuple[int, str]] = field(default_factory=set)
    count: int = 0

    def offer(self, day: int) -> None:
        """A letter that moves the slot, or tells it once more."""
        self.sequence += bool(self.told) and day != self.day
        self.day = day
        self.told.append(day)
        others = [
            {key: slot(CALL, label, other)[key] for key in ("label", "start_utc", "end_utc")}
            for label, other in OTHERS.items()
        ]
        told = slot(CALL, day=day, sequence=self.sequence) | {"alternatives": others}
        send(LedgerWriter(self.season.folder), CALL, [told])

    def propose(self) -> None:
        """The partner names a time of its own and it is taken: what `propose --take` writes, without a sky."""
        start = dt.datetime(2027, 3, OWN_DAY, 1, 15, tzinfo=dt.UTC)
        end, partner = start + dt.timedelta(hours=1), SimpleNamespace(station=SimpleNamespace(call=CALL))
        judged = SimpleNamespace(
            agreed=False, offered=False, partner=partner, start=start, end=end, label="A", operator="QM7TOR"
        )
        inputs, now = read_inputs(self.season.season), dt.datetime(2027, 2, 1, tzinfo=dt.UTC)
        take_proposal(self.season.folder, inputs, self.season.period, judged, now)  # type: ignore[arg-type]
        self.said.add((OWN_DAY, "yes"))

    def type(self, command: str) -> str:
        """Types a command; no end but those of the contract."""
        printed = io.StringIO()
        with contextlib.redirect_stdout(printed), contextlib.redirect_stderr(printed):
            sys.argv = ["mutual-moon", *command.split()]
            code = run()
        assert code in (0, 2, 3), printed.getvalue()
        return printed.getvalue()

    def post(self, word: str, day: int, with_time: bool, forgery: str = "") -> None:
        """A mail arrives; with a time of its own, or with the sequence of the letter that told the day first."""
        self.count += 1
        stamp = dt.datetime(2020, 2, 1, tzinfo=dt.UTC) + dt.timedelta(hours=self.count)
        times = f"DTSTART:202703{day:02d}T011500Z\nDTEND:202703{day:02d}T021500Z" if with_time else ""
        sequence = 0
        for before, after in zip(self.told, self.told[1:], strict=False):
            if before == day:
                break
            sequence += before != after
        lines = {"DTSTAMP": f"DTSTAMP:{stamp:%Y%m%dT%H%M%SZ}", "SEQUENCE": f"SEQUENCE:{sequence}", "more": times}
        if forgery == "another organizer":
            lines["more"] += "\nORGANIZER:mailto:ines@else.example"
        elif forgery == "another's name":
            lines["ATTENDEE"] = f"ATTENDEE;PARTSTAT={PARTSTAT[word]}:mailto:else@post.example"
        elif forgery == "made-up slot":
            lines["UID"] = f"UID:qm7tor-{CALL.lower()}-3cm-2027-03-a-0123456789abcdef@mutual-moon.invalid"
        else:
            lines["more"] += f"\nORGANIZER:mailto:{SENDER}"
        calendar = reply(CALL, "A", PARTSTAT[word], **lines)
        raw = mail(calendar, From="else@post.example") if forgery == "another sender" else mail(calendar)
        if forgery == "two senders":
            raw = raw.replace(b"From:", b"From: else@post.example\nFrom:", 1)
        elif forgery == "failed":
            raw = b"Authentication-Results: mx.hill.example; dmarc=fail\n" + raw
        name = f"{self.count:03d}.{'ics' if forgery == 'no mail' else 'eml'}"
        (Path("answers") / name).write_bytes(calendar.encode() if forgery == "no mail" else raw)
        if not forgery:
            self.said.add((day, word))

    def lines(self) -> list[tuple[int, str]]:
        """Day and state of what the record says."""
        return [(one.start_utc.day, one.state) for one in read_inputs(self.season.season).record.answers]

    def check(self) -> None:
        """Nothing in the record that was not said, to that very time."""
        assert set(self.lines()) <= {(day, STATE[word]) for day, word in self.said}


@contextlib.contextmanager
def playing(prepared: Path) -> Iterator[Play]:
    with tempfile.TemporaryDirectory() as place, contextlib.chdir(place), pytest.MonkeyPatch.context() as patch:
        patch.setattr(sys, "argv", [])
        shutil.copytree(prepared, place, dirs_exist_ok=True)
        Path("answers").mkdir()
        Path("stations/record").mkdir()
        yield Play(SeasonFolder(Path(place)))


@pytest.fixture(scope="module")
def prepared(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return lay_out(tmp_path_factory.mktemp("prepared")).root


ACTIONS = st.one_of(
    st.tuples(st.just("offer"), st.sampled_from(DAYS)),
    st.tuples(
        st.just("mail"), st.sampled_from(list(PARTSTAT)), st.sampled_from(DAYS), st.booleans(),
        st.sampled_from(("", "", *FORGERIES)),
    ),
    st.tuples(st.just("chat"), st.sampled_from(list(PARTSTAT)), st.sampled_from(DAYS), st.booleans()),
    st.tuples(st.just("choose"), st.sampled_from(list(OTHERS))),
    st.tuples(st.just("propose")),
    st.tuples(st.just("read")),
    st.tuples(st.just("look")),
)  # fmt: skip


@example([("offer", 14), ("mail", "yes", 13, True, ""), ("read",)])
@example([("offer", 14), ("mail", "yes", 13, False, ""), ("mail", "no", 14, True, ""), ("read",)])
@example([("mail", "yes", 13, True, ""), ("read",), ("offer", 14), ("chat", "no", 14, False)])
@example([("choose", "B"), ("mail", "no", 13, True, ""), ("read",), ("choose", "C")])
@example([("propose",), ("mail", "yes", 13, True, ""), ("read",), ("offer", 14), ("chat", "no", 14, False)])
@given(st.lists(ACTIONS, min_size=3, max_size=6))
@hypothesis_settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_the_record_holds_only_what_was_said_to_that_time(prepared: Path, actions: list[tuple[str, ...]]) -> None:
    with playing(prepared) as play:
        play.offer(DAYS[0])
        for kind, *rest in actions:
            before = play.lines()
            if kind == "offer":
                play.offer(rest[0])
            elif kind == "mail":
                word, day, with_time, forgery = rest
                # A partner answers what it was told; a stranger says what he likes.
                if forgery or day in play.told:
                    play.post(word, day, with_time, forgery)
            elif kind == "chat":
                word, day, named = rest
                if named:
                    play.said |= {(day, word)} if day in play.told else set()
                    play.type(f"answer {CALL} A={word}@2027-03-{day}T01:15Z")
                else:
                    # A bare letter is taken where it can mean one day alone.
                    refused = {one for one, state in before if state == "declined"}
                    if play.day in dict(before) or set(play.told) - refused <= {play.day}:
                        play.said.add((play.day, word))
                    if (OWN_DAY, "yes") in play.said:
                        # It may mean the time that the partner proposed itself.
                        play.said.add((OWN_DAY, word))
                    play.type(f"answer {CALL} A={word}")
            elif kind == "choose":
                play.said.add((OTHERS[rest[0]], "yes"))
                play.type(f"answer {CALL} {rest[0]}=yes")
            elif kind == "propose":
                play.propose()
            else:
                play.type(f"replies answers{' --yes' if kind == 'read' else ''}")
            if kind not in ("read", "chat", "choose", "propose"):
                assert play.lines() == before
            play.check()
        play.type("replies answers --yes")
        play.check()
        settled = play.lines()
        if play.count:
            # What is doubtful waits, and nothing else is told a second time.
            out = play.type("replies answers --yes")
            assert re.search(r"\nNothing (?:new|was changed)\.\n(?:\d+ mails? waits? for you: .*\n)?\Z", f"\n{out}")
            assert play.lines() == settled


@pytest.mark.parametrize("forgery", FORGERIES)
def test_each_forgery_alone_is_shown_and_changes_nothing(prepared: Path, forgery: str) -> None:
    with playing(prepared) as play:
        play.offer(DAYS[0])
        play.post("yes", DAYS[0], True, forgery)
        assert "Nothing was changed." in play.type("replies answers --yes")
        assert play.lines() == []
        play.post("yes", DAYS[0], True)
        play.type("replies answers --yes")
        assert play.lines() == [(DAYS[0], "confirmed")]
        assert play.count < MOST_FILES


def test_another_time_and_an_own_proposal_are_taken_and_a_forgery_leaves_them(prepared: Path) -> None:
    with playing(prepared) as play:
        play.offer(DAYS[0])
        play.type(f"answer {CALL} B=yes")
        assert play.lines() == [(OTHERS["B"], "confirmed")]
        play.post("no", DAYS[0], True, "another sender")
        play.type("replies answers --yes")
        assert play.lines() == [(OTHERS["B"], "confirmed")]
        play.propose()
        assert play.lines() == [(OWN_DAY, "confirmed")]
        play.propose()
        assert play.lines() == [(OWN_DAY, "confirmed")]
