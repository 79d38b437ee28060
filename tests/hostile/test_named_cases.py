"""Hostile files, names and places through the real commands: one clear sentence, nothing half-written, no traceback.

Reading and escaping open no connection either, and a lock is never left behind by whoever held it.
"""

from __future__ import annotations

import errno
import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable
from email.parser import BytesParser
from email.policy import default
from html.parser import HTMLParser
from pathlib import Path

import pytest

from pipeline.cli import run
from tests.hostile.small_season import NIGHT, PERIOD, command_line, environment, lay_out, picture, quiet

pytestmark = pytest.mark.usefixtures("plans_made_once")

Type = Callable[..., tuple[int, str]]
PLAN, LETTERS, SHEETS = ("plan", "--no-pdf"), ("letters", "--no-pdf"), ("night", NIGHT, "--no-pdf")
ALL = (PLAN, LETTERS, SHEETS, ("year", "--months", "1", "--no-pdf"), ("review", "march.csv", "--no-pdf"))
STATION = Path("stations/qf4lum.yaml")
NO_SEASON = "stations/season.yaml: no such season file"


@pytest.fixture
def type_(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Type:
    """Types a command in the season's folder; what it says on the error stream."""
    monkeypatch.chdir(lay_out(tmp_path / "desk"))

    def typing(*words: str) -> tuple[int, str]:
        monkeypatch.setattr(sys, "argv", ["mutual-moon", *words])
        code = run()
        said = capsys.readouterr().err
        assert "Traceback" not in said
        assert "a defect" not in said
        return code, said

    return typing


def refused(type_: Type, words: tuple[str, ...], sentence: str) -> None:
    """Exit code 2, the sentence, and every file as it was."""
    before = picture(Path.cwd())
    code, said = type_(*words)
    assert code == 2, said
    assert sentence in said
    assert len(said.splitlines()) <= 3
    assert not re.search(r"[\x00-\x09\x0b-\x1f\x7f]", said)
    assert picture(Path.cwd()) == before


def with_key(key: str, value: str) -> None:
    """The partner's file with one key said in other words."""
    text = re.sub(rf"^{key}:.*\n((  |- ).*\n)*", "", STATION.read_text("utf-8"), flags=re.MULTILINE)
    STATION.write_text(f"{key}: {value}\n{text}", "utf-8")


BOMB = b"a: &a [x, x]\nb: &b [*a, *a, *a]\nc: &c [*b, *b, *b]\ncall: QF4LUM\nname: *c\n"
FILES = {
    "alias bomb": (BOMB, "line 1: the anchor &a is not taken"),
    "50 MB": (b"# words\n" * 6_250_000, "the file is over 1 MB"),
    "binary": (bytes(range(256)) * 40, "the file is not plain text"),
    "UTF-16": ("call: QF4LUM\n".encode("utf-16"), "the file is not plain text"),
    "Latin-1": ("call: QF4LUM\nname: Grüße\n".encode("latin-1"), "line 2: this line holds a letter that is not UTF-8"),
    "empty": (b"", "the file is empty"),
}


@pytest.mark.parametrize("name", FILES)
def test_a_file_that_is_no_station(name: str, type_: Type) -> None:
    content, sentence = FILES[name]
    STATION.write_bytes(content)
    refused(type_, PLAN, f"qf4lum.yaml{',' if 'line' in sentence[:4] else ':'} {sentence}")


def test_an_empty_folder_and_one_without_stations(type_: Type) -> None:
    for file in Path("stations").glob("q*.yaml"):
        file.unlink()
    refused(type_, PLAN, "home is 'QM7TOR', but no file in this folder has that call; there is no station file yet.")
    shutil.rmtree("stations")
    Path("stations").mkdir()
    for words in (*ALL, ("send",), ("answer", "QF4LUM", "A=yes"), ("replies", "."), ("check",)):
        refused(type_, words, NO_SEASON)


REFUSED = [
    ("name", '"' + "x" * 500 + '"', "at most 200 characters are meant, and these are 500"),
    ("operator", '"Aino\\r\\nBcc: all@world.example"', "one line of text without tabs is meant"),
    ("operator", '"\\u202Edrawkcab"', "the value holds the control character U+202E"),
    ("name", '"a\\0b"', "the value holds the control character U+0000"),
    ("email", '"a@lumme.example\\r\\nBcc: all@world.example"', "one mail address is meant"),
    ("email", '"a@lumme.example, b@lumme.example"', "one mail address is meant"),
    ("call", "../../QF4LUM", "a call sign is meant"),
    ("call", '"Q4\\nnot a fault of yours"', "a call sign is meant"),
    ("horizon", "{file: ../../../etc/passwd}", "qf4lum.yaml, line 1: horizon.file"),
    ("horizon", "{file: /dev/zero}", "qf4lum.yaml, line 1: horizon.file"),
]


@pytest.mark.parametrize(("key", "value", "sentence"), REFUSED, ids=lambda value: value[:16])
def test_a_value_that_could_do_harm(key: str, value: str, sentence: str, type_: Type) -> None:
    with_key(key, value)
    refused(type_, PLAN, sentence)


@pytest.mark.parametrize("month", ["2060-01", "2053-10", "1850-01", "0001-01", "9999-12"])
def test_a_month_outside_the_ephemeris(month: str, type_: Type) -> None:
    refused(type_, ("plan", "--no-pdf", "--month", month), "1900 to 20")


def test_nobody_is_ever_at_the_dish(type_: Type) -> None:
    """No slot, but windows and reasons; nothing to complain of."""
    home = Path("stations/qm7tor.yaml")
    text = home.read_text("utf-8")
    home.write_text(text.replace("unavailable_dates: [", "unavailable_dates: [2027-01-01/2027-12-31, "), "utf-8")
    for words in ALL:
        assert quiet(type_(*words)), words
    assert len(Path(f"out/{PERIOD}/data/agenda.csv").read_text("utf-8").splitlines()) == 1


NAMES = [
    "<script>alert(1)</script></title><img src=http://elsewhere.example/x>",
    "{{ 7 * 7 }}{% raw %}{operator.__class__}",
    "../../../etc/passwd",
    "\N{HEBREW LETTER ALEF}\N{HEBREW LETTER BET} \N{ARABIC LETTER ALEF}\N{ARABIC LETTER LAM}",
    "Moon \N{FULL MOON SYMBOL} dish",
    "x " * 99,
    '"; rm -rf ~ #',
]


# What pages bring of their own: the reader's switches, and the telephone's table with its script.
OWN_SCRIPTS = {"calendar.html": 1, "tonight.html": 2}


class Tags(HTMLParser):
    """What a browser would make of a page: its tags with all that they point to, and its words."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.links: list[str] = []
        self.words = ""
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.links += [value or "" for name, value in attrs if name in ("src", "href", "action", "data")]

    def handle_data(self, data: str) -> None:
        self.words += data


@pytest.mark.parametrize("name", NAMES, ids=lambda name: name[:12].strip())
def test_names_stay_words_wherever_they_are_printed(name: str, type_: Type) -> None:
    """In pages, mails, invitations and file names alike."""
    quoted = '"' + name.replace("\\", "\\\\").replace('"', '\\"') + '"'
    for key in ("name", "operator"):
        with_key(key, quoted)
    season = Path("stations/season.yaml")
    season.write_text(season.read_text("utf-8").replace("title: Autumn round", f"title: {quoted}"), "utf-8")
    # The first goes through all pages; letters beyond the usual ones cost seconds of cutting fonts.
    for words in ALL if name == NAMES[0] else ALL[:2]:
        assert quiet(type_(*words)), words
    pages = sorted(Path("out").rglob("*.html"))
    assert len(pages) == (5 if name == NAMES[0] else 3)
    mail = BytesParser(policy=default).parsebytes(Path(f"out/{PERIOD}/letters/QF4LUM/letter.eml").read_bytes())
    part = mail.get_body(("html",))
    assert part is not None
    assert set(mail.keys()) == {"From", "To", "Subject", "Message-ID", "MIME-Version", "Content-Type"} | (
        {"X-Mailer"} & set(mail.keys())
    )
    assert str(mail["To"]).endswith("<aino@lumme-fjord.example>")
    read = [Tags(text) for text in (*(page.read_text("utf-8") for page in pages), str(part.get_content()))]
    for one in read:
        assert not {"img", "iframe", "object", "link"} & set(one.tags)
        assert all(link.startswith(("#", "data:", "mailto:")) for link in one.links)
        assert "49" not in re.findall(r"(?<!\d)49(?= *\{% raw)", one.words)
    scripts = {page.name: one.tags.count("script") for page, one in zip(pages, read, strict=False)}
    assert {page: count for page, count in scripts.items() if count} == OWN_SCRIPTS
    assert not read[-1].tags.count("script")
    assert any(name.strip()[:30] in one.words for one in read)
    assert {path.parts[0] for path in map(Path, picture(Path.cwd()))} == {"out", "stations", "march.csv"}


def test_a_file_where_a_folder_is_meant(type_: Type) -> None:
    Path("out").write_text("mine", "utf-8")
    for words in (PLAN, *ALL[3:]):
        refused(type_, words, "out is a file where a folder is meant to be; move it away, or --out names another")
    Path("out").unlink()
    for name in ("", "/calendar", "/nights"):
        place = Path(f"out/{PERIOD}{name}")
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_text("mine", "utf-8")
        code, said = type_(*PLAN)
        assert (code, said.count("\n")) == (2, 1)
        assert f"out/{PERIOD}{name} is a file where a folder is meant to be" in said
        assert place.read_text("utf-8") == "mine"
        shutil.rmtree("out")
    Path("out/year.html").mkdir(parents=True)
    refused(type_, ALL[3], "out/year.html is a folder where a file is meant to be; move it away and run again")


@pytest.mark.parametrize("words", [PLAN, *ALL[3:]], ids=lambda words: words[0])
def test_a_folder_that_may_not_be_written(words: tuple[str, ...], type_: Type, monkeypatch: pytest.MonkeyPatch) -> None:
    """The superuser may write everywhere, so the system's refusal is put in its place."""
    real = os.open

    def read_only(path: str, flags: int, *arguments: int, **named: int) -> int:
        if flags & (os.O_WRONLY | os.O_RDWR):
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(path))
        return real(path, flags, *arguments, **named)

    def no_folder(path: str, *_: int, **__: int) -> None:
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(path))

    for name, fails in (("mkdir", no_folder), ("open", read_only)):
        with monkeypatch.context() as patch:
            patch.setattr(os, name, fails)
            refused(type_, words, "cannot write into out: permission denied; put that right, or --out names another")
        shutil.rmtree("out", ignore_errors=True)


def test_no_page_asks_the_network(type_: Type, monkeypatch: pytest.MonkeyPatch) -> None:
    """Every command but `send` does its work, PDFs too, where any use of a socket fails."""

    def none(*_: object, **__: object) -> None:
        raise AssertionError("a connection was asked for")

    for name in ("connect", "connect_ex", "bind", "sendto"):
        monkeypatch.setattr(socket.socket, name, none)
    for name in ("create_connection", "getaddrinfo", "gethostbyname"):
        monkeypatch.setattr(socket, name, none)
    monkeypatch.setattr("os.cpu_count", lambda: 1)
    with_key("name", '"<img src=http://elsewhere.example/x>"')
    for words in (*ALL, ("check",), ("explain", "QF4LUM", "2027-03-13T20:00Z"), ("send",)):
        assert type_(*(word for word in words if word != "--no-pdf"))[0] == 0, words
    assert len(list(Path("out").rglob("*.pdf"))) == 6


# --- two at once -----------------------------------------------------------------------------------------------------

HOLDER = """
import sys, time
from pathlib import Path
from pipeline.record.writing import record_lock
from pipeline.reports.locking import only_run_in
with only_run_in(Path("out")), record_lock(Path("stations")):
    print("held", flush=True)
    time.sleep(600)
"""


def test_a_killed_run_leaves_no_lock(type_: Type, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("pipeline.record.writing.WAIT_S", 0.05)
    monkeypatch.setattr("pipeline.reports.locking.only_run_in.__wrapped__.__defaults__", (0.05,))
    assert type_(*PLAN) == (0, "")
    with subprocess.Popen([sys.executable, "-c", HOLDER], env=environment(), stdout=subprocess.PIPE) as holder:
        assert holder.stdout is not None
        assert holder.stdout.readline() == b"held\n"
        refused(type_, PLAN, "another run writes into out and does not end; wait for it, then run again")
        refused(type_, LETTERS, "another run writes into out and does not end; wait for it, then run again")
        refused(type_, ("answer", "QF4LUM", "A=yes"), "another run of this program is writing to stations/record")
        holder.send_signal(signal.SIGKILL)
        holder.wait(10)
    assert type_(*PLAN) == (0, "")
    assert quiet(type_(*LETTERS))
    assert type_("answer", "QF4LUM", "A=yes") == (0, "")


def test_a_folder_that_lies_aside_is_found(type_: Type) -> None:
    """As between the two moves of a swap, whether by a run at this moment or by one that was cut short there."""
    assert quiet(type_(*PLAN))
    assert quiet(type_(*LETTERS))
    whole = picture(Path.cwd())
    for name, words in (("data", LETTERS), ("data", SHEETS), ("letters", ("send",)), (f"nights/{NIGHT}", SHEETS)):
        place = Path(f"out/{PERIOD}/{name}")
        shutil.copytree(place, f"{place}.new")
        place.rename(f"{place}.old")
        assert quiet(type_(*words)), words
        assert picture(Path.cwd()) == whole


@pytest.mark.slow
def test_two_runs_at_once_take_turns(type_: Type) -> None:
    """Three processes write into one folder; each succeeds, and all is as if they had come one after the other."""
    assert all(quiet(type_(*words)) for words in (PLAN, LETTERS, SHEETS))
    alone = picture(Path.cwd())
    shutil.rmtree(f"out/{PERIOD}/calendar")
    runs = []
    for words in (PLAN, LETTERS, SHEETS):
        runs.append(subprocess.Popen(command_line(*words), env=environment(), stderr=subprocess.PIPE))
        time.sleep(0.05)
    said = [one.communicate(timeout=300)[1].decode() for one in runs]
    assert [one.returncode for one in runs] == [0, 0, 0], said
    assert picture(Path.cwd()) == alone
