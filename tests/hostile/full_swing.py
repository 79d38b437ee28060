"""A season in full swing, the commands that write to it, and what must hold after one of them was cut short.

All folders stand, mails were sent, the crew has written in its log; then a figure of the inputs changed.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

from pipeline.record.inputs import read_inputs
from pipeline.record.ledger import parse_ledger, read_ledger
from tests.hostile.small_season import NIGHT, PERIOD, Picture, change, picture, wholeness
from tests.letters.post_office import PostOffice
from tests.letters.test_post_chain import answered

Type = Callable[..., tuple[int, str]]
CREW = f"out/{PERIOD}/nights/{NIGHT}"
LEDGER = "stations/record/sent.jsonl"
COPIES = "stations/record/sent/"
CLOCK = re.compile(rb"answered: [^,}]+")

# What is typed to be cut, and what before it.
COMMANDS: dict[str, tuple[tuple[str, ...], tuple[tuple[str, ...], ...]]] = {
    "plan": (("plan",), ()),
    "plan without pages": (("plan", "--no-pdf"), ()),
    "letters": (("letters",), (("plan",),)),
    "night": (("night", NIGHT, "--drop", "QG8FEN"), (("plan",),)),
    "year": (("year", "--months", "2"), ()),
    "year without pages": (("year", "--months", "2", "--no-pdf"), ()),
    "review": (("review", "march.csv", "--apply"), ()),
    "replies": (("replies", "answers", "--yes"), ()),
    "answer": (("answer", "QG8FEN", "A=yes"), ()),
    "survey": (("survey", "--heights", "300=6,305=7.5", "--yes"), ()),
}
# Those that write a line or two to the record, one new file, or pages of their own; the soak kills them as well.
SMALLER: dict[str, tuple[tuple[str, ...], tuple[tuple[str, ...], ...]]] = {
    "measure": (("measure", "2027-02-13T18:20Z", "ground", "4.2"), ()),
    "propose": (("propose", "QF4LUM", "2027-03-14T20:00Z", "--take"), ()),
    "by hand": (("send", "--by-hand", "QG8FEN", "--way", "chat"), (("plan", "--no-pdf"), ("letters", "--no-pdf"))),
    "put away": (("replies", "answers", "--put-away", "0.eml"), ()),
    "their sky": (("answer", "QG8FEN", "sky=7@100-120"), ()),
    "add": (("add", "QX6ICE", "--locator", "JP99hw", "--power-w", "10"), ()),
    "survey card": (("survey",), ()),
    "need": (("need", "QG8FEN"), ()),
    "weather": (("weather",), ()),
}
SEND = ("send", "--yes")
BEFORE_SEND = (("plan",), ("letters",))


def stand_in(html: str, *_: Any) -> bytes:
    """In place of a rendered PDF: as different as the pages are."""
    return b"%PDF " + hashlib.sha256(html.encode()).digest()


def full_swing(type_: Type, office: PostOffice) -> None:
    """Brings the season in the current folder there."""
    office.taken.clear()
    for words in (
        ("plan",), ("letters",), SEND, ("night", NIGHT), ("year", "--months", "1"),
        ("review", "march.csv", "--apply"), ("answer", "QF4LUM", "A=perhaps"),
    ):  # fmt: skip
        assert type_(*words)[0] == 0, words
    log = Path(CREW) / "log.csv"
    log.write_text(log.read_text("utf-8").replace("QM7TOR,,,,,\n", "QM7TOR,-11,-12,yes,,loud\n", 1), "utf-8")
    (Path(CREW) / "antenna.jpg").write_bytes(b"a picture")
    Path("answers").mkdir()
    for number, (_, _, mail) in enumerate(office.taken):
        Path(f"answers/{number}.eml").write_bytes(answered(mail, "ACCEPTED" if number else "DECLINED"))
    change(Path())
    # Another power at home is told to both partners.
    home = Path("stations/qm7tor.yaml")
    home.write_text(re.sub(r"power_w: [\d.]+", "power_w: 160", home.read_text("utf-8")), "utf-8")
    Path("march.csv").write_text(Path("march.csv").read_text("utf-8").replace("-12,-14", "-9,-8"), "utf-8")


def timeless(taken: Picture) -> Picture:
    """Without what the clock put into the agenda."""
    return {path: CLOCK.sub(b"", content) if "/record/" in path else content for path, content in taken.items()}


def after_cut(now: Picture, old: Picture, new: Picture) -> list[str]:
    """What is wrong with the state that a cut run left."""
    faults = wholeness(*(_without_ledger(timeless(one)) for one in (now, old, new)))
    begun = now.get(LEDGER, b"").startswith(old[LEDGER]) and new[LEDGER] != old[LEDGER]
    return [*faults, *([] if begun or now.get(LEDGER) == old[LEDGER] else ["the ledger changed"])]


def _without_ledger(taken: Picture) -> Picture:
    return {path: content for path, content in taken.items() if path != LEDGER}


def noted(taken: Picture) -> list[tuple[str, str, str]]:
    """What the ledger of a picture says of whom, its clock and torn lines aside."""
    return [(one.partner, one.state, one.digest) for one in parse_ledger(taken[LEDGER]).messages]


def after_next(now: Picture, *good: Picture) -> list[str]:
    """What is wrong after the next run, which must give the bytes of a run that nobody disturbed."""
    known = [_without_ledger(timeless(picture)) for picture in good]
    found = _without_ledger(timeless(now))
    other = sorted({path for path in found.keys() | known[0].keys() if found.get(path) != known[0].get(path)})
    faults = [] if noted(now) == noted(good[0]) else ["the ledger says otherwise"]
    faults += [] if found in known else [f"the next run gives other files: {', '.join(other[:5])}"]
    crew = now.get(f"{CREW}/antenna.jpg") == b"a picture" and b"loud" in now.get(f"{CREW}/log.csv", b"")
    return [*faults, *([] if crew else ["what the crew wrote is lost"])]


def settled(type_: Type, desk: Path, office: PostOffice, old: Picture) -> list[str]:
    """Sends what a cut `send` left, as an operator does who asks the partners; what is wrong then.

    In the end each partner has the letter once, and the ledger holds all that it held.
    """
    faults = []
    now = picture(desk)
    if not now[LEDGER].startswith(old[LEDGER]):
        faults.append("the ledger lost a line")
    if not {path for path in now if now[path] != old.get(path) and not path.startswith(COPIES)} <= {LEDGER}:
        faults.append("a file beside the ledger and the copies changed")
    if any(now.get(path) != content for path, content in old.items() if path.startswith(COPIES)):
        faults.append("an older copy changed")
    codes = [type_(*SEND)[0]]
    stations = read_inputs(desk / "stations" / "season.yaml").partners
    addresses = {station.call: station.email for station in stations}
    for message in read_ledger(desk / "stations").messages:
        if message.open:
            arrived = any(addresses[message.partner] in tos for _, tos, _ in office.taken)
            words = ("send", "--arrived") if arrived else (*SEND, "--again")
            codes.append(type_(*words, message.partner)[0])
    codes.append(type_(*SEND)[0])
    if not {*codes} <= {0, 4} or codes[-1] != 0:
        faults.append(f"exit codes {codes}")
    if sorted(to for _, tos, _ in office.taken for to in tos) != sorted(filter(None, addresses.values())):
        faults.append("a letter was sent twice or not at all")
    if not picture(desk)[LEDGER].startswith(old[LEDGER]):
        faults.append("the ledger lost a line later")
    return faults + copies_told(desk, office)


def copies_told(desk: Path, office: PostOffice) -> list[str]:
    """What is wrong with the copies: each mail that the server took lies there as it left."""
    kept = {path: content for path, content in picture(desk).items() if path.startswith(COPIES)}
    named = {f"{COPIES}{one.copy}" for one in read_ledger(desk / "stations").messages if one.delivered}
    faults = [] if all(content in kept.values() for _, _, content in office.taken) else ["a copy is missing"]
    whole = {path for path in kept if path.endswith(".eml")}
    return [*faults, *([] if named <= whole else [f"the ledger names what is not there: {sorted(named - whole)}"])]
