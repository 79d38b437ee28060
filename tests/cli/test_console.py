"""What is seen at a terminal: no line wider than it, a stage and its seconds, letters that an old code page has."""

from __future__ import annotations

import datetime as dt
import io
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from pipeline.commands import console
from pipeline.commands.console import Stages, show_what_can_be_shown
from pipeline.plan import plan as planning
from pipeline.plan.plan import Plan
from pipeline.record.inputs import Inputs
from pipeline.reports.folding import folded
from pipeline.reports.places import demo_folder
from pipeline.windows.span import span_of
from tests.conftest import Type
from tests.hostile import windows_habits

EIGHTY = 80
# Both are usual where a terminal shows one byte a letter; Python carries their tables.
CODE_PAGES = ("cp850", "cp1252")


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_a_long_line_goes_on_under_its_last_column() -> None:
    row = "  gain    43.23 dBi  * eta (pi D / lambda)^2, D = 1.8 m, eta = 0.55"
    assert folded(row, 50).split("\n") == [
        "  gain    43.23 dBi  * eta (pi D / lambda)^2, D =",
        "                       1.8 m, eta = 0.55",
    ]
    assert folded("  - one two three", 12) == "  - one two\n    three"
    assert folded("note: one two three", 13) == "note: one two\n  three"
    assert folded("short\n\n  lines  stay", 40) == "short\n\n  lines  stay"
    assert folded("a chance of 55 % or more", 14) == "a chance of\n  55 % or more"


def test_what_is_to_be_typed_stays_on_its_line() -> None:
    """A command that is copied from two lines would run before its end."""
    command = "mutual-moon plan --season somewhere/season.yaml"
    assert folded(f"there is no plan yet; run: {command}", 50).split("\n") == [
        "there is no plan yet;",
        f"  run: {command}",
    ]
    assert folded(f"  {command}", 20, "mutual-moon") == f"  {command}"


@pytest.mark.parametrize(
    ("before", "command", "after"),
    [
        ("If that is what it says: ", "mutual-moon answer QD2AUE A=no@2027-02-13T19:30Z B=yes@2027-02-22T21:15Z", ""),
        ("noted in record; next: ", 'mutual-moon answer QV7BAY "hours=fri,sat 18:00-23:30; sun 09:00-22:00"', ""),
        ("  where that is right: ", "mutual-moon survey --heights 250=9 272=27 --yes", " (as measured)"),
        ("For the whole sky: ", "mutual-moon answer QT8NUI sky=free@all", "; for an arc, clockwise, another line"),
        ("It is there: ", "mutual-moon replies answers --yes", " lists what waits for an answer from you"),
        ("Then type ", "mutual-moon review night.adi --apply", ". It goes on with other words behind it."),
        ("It is right for ", "mutual-moon sites", ", and other words stand behind it, many of them."),
    ],
)
def test_a_command_within_a_sentence_is_never_parted(before: str, command: str, after: str) -> None:
    for columns in range(20, 60, 7):
        lines = folded(f"{before}{command}{after}", columns, "mutual-moon").split("\n")
        assert sum(command in line for line in lines) == 1
        # All else is folded as ever.
        assert all(len(line) <= columns or len(line.strip()) <= len(command) + 1 for line in lines)
        assert " ".join(map(str.strip, lines)) == f"{before}{command}{after}".strip()


def test_a_stage_is_told_at_once_and_its_seconds_below_it() -> None:
    terminal, now = Terminal(), [0.0]
    stages = Stages(lambda: terminal, lambda: now[0])
    now[0] = 2.0
    stages.tick()
    assert terminal.getvalue() == "\r    loading, 2 s\r"
    stages.tell("5 PDFs")
    assert terminal.getvalue().endswith(f"\r{' ' * 16}\r  5 PDFs\n")
    now[0] += 0.5
    before = terminal.getvalue()
    stages.tick()
    assert terminal.getvalue() == before
    now[0] += 11.0
    stages.tick()
    assert terminal.getvalue().endswith("\r    12 s\r")
    stages.wipe()
    assert terminal.getvalue().endswith(f"\r{' ' * 8}\r")


def test_a_file_gets_a_line_a_stage_and_no_seconds() -> None:
    file, now = io.StringIO(), [0.0]
    stages = Stages(lambda: file, lambda: now[0])
    stages.tell("Nights")
    now[0] = 60.0
    stages.tick()
    stages.tell("Agenda")
    assert file.getvalue() == "  Nights\n  Agenda\n"


NAMES = (
    "plan",
    "letters",
    "send",
    "night",
    "year",
    "review",
    "check",
    "explain",
    "new",
    "add",
    "import",
    "replies",
    "answer",
)
COMMANDS = (
    "plan --no-pdf",
    "plan --what-if QF4LUM.bands.3cm.power_w=100",
    "letters --no-pdf",
    "send",
    "night 2027-03-13 --no-pdf",
    "night 2027-03-13 --no-pdf --drop QF4LUM",
    "year --no-pdf --months 1",
    "review stations/log/2027-03.adi --no-pdf",
    "check",
    "check QN1PIK",
    "explain QF4LUM 2027-03-13T23:10Z",
    "explain QF4LUM 2027-03-13T10:10Z",
    "new fresh",
    "add QX1ABC --locator KP10 --dish-diameter-m 2.4 --power-w 40",
    "import roster.csv",
    "replies answers",
    "answer QF4LUM A=yes",
    "plan --season fresh/season.yaml",
    "night",
    "night 2027-03-14 --out elsewhere",
    "",
    "--help",
    "--version",
    "plann",
    *(f"{name} --help" for name in NAMES),
)


def test_every_command_stays_within_eighty_columns(
    mutual_moon: Type, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """The demo's season, each command where it succeeds; and the same in letters that old code pages have."""
    monkeypatch.setenv("COLUMNS", str(EIGHTY))
    monkeypatch.setattr(console.stages, "stream", lambda: sys.stderr)
    shutil.copytree(demo_folder(), tmp_path / "stations")
    season = tmp_path / "stations" / "season.yaml"
    # Coarse steps: as many partners and lines, quicker to plan.
    season.write_text(season.read_text("utf-8").replace("policy:", "policy:\n  step_minutes: 30", 1), "utf-8")
    (tmp_path / "answers").mkdir()
    made: dict[str, Plan] = {}
    real = planning.make_plan

    def make_once(inputs: Inputs, today: dt.date, progress: planning.Progress | None = None, **_: bool) -> Plan:
        key = f"{inputs.digest} {span_of(inputs, today).name}"
        if key not in made:
            made[key] = real(inputs, today, progress)
        return made[key]

    monkeypatch.setattr(planning, "make_plan", make_once)
    wide, unreadable = [], []
    for command in COMMANDS:
        code, out, err = mutual_moon(*command.split())
        assert code in (0, 2, 3), (command, err)
        assert "Traceback" not in err
        for line in (out + err).splitlines():
            if len(line) > EIGHTY:
                wide.append((command, line))
            unreadable += [(command, line) for page in CODE_PAGES if b"?" in _shown(line, page) and "?" not in line]
        if command == COMMANDS[0]:
            # A line a stage where nobody watches, and what was made is all of the other stream.
            assert err.splitlines()[0] == "  Moon and Sun over the period"
            assert "Sheets of the nights" in err.splitlines()[-1]
            assert "s\r" not in err
            assert out.startswith("QM7TOR")
    assert wide == []
    assert unreadable == []
    assert windows_habits.faults(tmp_path / "out") == []


def _shown(line: str, code_page: str) -> bytes:
    raw = io.BytesIO()
    stream = io.TextIOWrapper(raw, encoding=code_page)
    show_what_can_be_shown(stream)
    stream.write(line)
    stream.flush()
    return raw.getvalue()


def test_substitutes_are_readable() -> None:
    said = "16:00–17:00 · 0.6° ≥ 5 × λ → “Tōkyō” … −3 dB Ł"
    assert _shown(said, "cp850").decode("cp850") == '16:00-17:00 · 0.6° >= 5 × lambda -> "Tokyo" ... -3 dB ?'
    assert _shown(said, "ascii").decode() == '16:00-17:00 - 0.6 deg >= 5 x lambda -> "Tokyo" ... -3 dB ?'
    assert _shown(said, "utf-8").decode() == said


@pytest.mark.parametrize("encoding", ["cp850", "utf-8"])
def test_an_old_code_page_is_no_fault(encoding: str) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "pipeline", "plan–"],
        capture_output=True,
        env=dict(os.environ, PYTHONIOENCODING=encoding, PYTHONUTF8="0"),
        check=False,
    )
    assert done.returncode == 2
    assert ("no command plan–;" if encoding == "utf-8" else "no command plan-;") in done.stderr.decode(encoding)


@pytest.mark.skipif(os.name == "nt", reason="pseudo terminals of POSIX")
def test_a_terminal_tells_its_own_width() -> None:
    import fcntl
    import pty
    import struct
    import termios

    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 50, 0, 0))
    environment = {key: value for key, value in os.environ.items() if key != "COLUMNS"}
    with subprocess.Popen([sys.executable, "-m", "pipeline"], stdout=theirs, stderr=theirs, env=environment) as process:
        os.close(theirs)
        shown = b""
        # The end of the other side is an error here, or nothing more to read.
        try:
            while piece := os.read(ours, 65536):
                shown += piece
        except OSError:
            pass
    os.close(ours)
    # Of what was rewritten in place the last stays.
    lines = [line.rpartition("\r")[2] for line in shown.decode().replace("\r\n", "\n").split("\n")]
    assert process.returncode == 0
    assert [line for line in lines if len(line) > 50 and not line.lstrip().startswith("mutual-moon")] == []
    assert any(len(line) > 40 for line in lines)
