"""Every reader of the house behind one door: bytes in, nothing out, and refusals only in the form that users are told.

Each desk knows valid examples of what it reads; the tests and the soak hand it spoiled ones.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from pipeline.inputs.faults import Fault, InputFaults
from pipeline.inputs.modes import mode_table
from pipeline.inputs.observed_flux import flux_in
from pipeline.inputs.reading import season_tree
from pipeline.inputs.roster import checked_rows
from pipeline.inputs.season import read_season
from pipeline.inputs.station import read_station
from pipeline.inputs.yaml_tree import FORBIDDEN, load_tree, read_bytes
from pipeline.letters.replies import judge
from pipeline.letters.reply_mail import read_file
from pipeline.record import model as record
from pipeline.record.attempts import NAME as ATTEMPTS
from pipeline.record.attempts import remembered
from pipeline.record.inputs import Inputs, read_inputs
from pipeline.record.ledger import Ledger, parse_ledger
from pipeline.record.measurements import NAME as MEASUREMENTS
from pipeline.record.reading import read_record
from pipeline.review.reading_logs import read_logs
from tests.hostile import examples

STATIONS = Path(__file__).resolve().parents[2] / "stations"


@dataclass(frozen=True)
class Desk:
    """One reader: valid examples, and what takes the bytes of a file in a folder of its own."""

    name: str
    examples: tuple[bytes, ...]
    read: Callable[[bytes, Path], None]


def refusals(desk: Desk, raw: bytes, folder: Path) -> list[str]:
    """What is wrong with how a file was taken: nothing where it was read, or refused in plain sentences."""
    try:
        desk.read(raw, folder)
    except InputFaults as refused:
        wrong = [repr(fault) for fault in refused.faults if not _is_plain(fault)]
        return wrong if refused.faults else ["a refusal without a word"]
    return []


def _is_plain(fault: Fault) -> bool:
    """Names the file, is one whole sentence, and shows nothing that a terminal would obey."""
    told = str(fault)
    return bool(fault.file) and len(told) <= 600 and not FORBIDDEN.search(told) and fault.message[-1:] in ".?)"


@cache
def demo() -> Inputs:
    """The demo's season, against which logs and replies are read."""
    return read_inputs(STATIONS / "season.yaml")


@cache
def _ledger() -> Ledger:
    return parse_ledger(examples.LEDGER)


def _station(raw: bytes, folder: Path) -> None:
    _raise(read_station(load_tree(raw, "qf4lum.yaml", folder)).faults)


def _season(raw: bytes, folder: Path) -> None:
    _raise(read_season(season_tree(load_tree(raw, "season.yaml", folder)), None).faults)


def _survey(raw: bytes, folder: Path) -> None:
    (folder / "survey.csv").write_bytes(raw)
    _raise(read_station(load_tree(examples.SURVEYED, "qf4lum.yaml", folder)).faults)


def _roster(raw: bytes, folder: Path) -> None:
    (folder / "roster.csv").write_bytes(raw)
    checked_rows(folder / "roster.csv", folder)


def _modes(raw: bytes, folder: Path) -> None:
    (folder / "modes.yaml").write_bytes(raw)
    mode_table(folder / "modes.yaml")


def _record_file(name: str) -> Callable[[bytes, Path], None]:
    def read(raw: bytes, folder: Path) -> None:
        (folder / record.FOLDER).mkdir(exist_ok=True)
        (folder / record.FOLDER / name).write_bytes(raw)
        calls = [station.call for station in demo().partners]
        _raise(read_record(folder, demo().season, demo().home.call, calls).faults)
        (folder / record.FOLDER / name).unlink()

    return read


def _attempts(raw: bytes, folder: Path) -> None:
    (folder / record.FOLDER).mkdir(exist_ok=True)
    (folder / record.FOLDER / ATTEMPTS).write_bytes(raw)
    remembered(folder)


def _flux(raw: bytes, folder: Path) -> None:
    (folder / "flux.txt").write_bytes(raw)
    flux_in(read_bytes(folder / "flux.txt"), "flux.txt")


def _log(name: str) -> Callable[[bytes, Path], None]:
    def read(raw: bytes, folder: Path) -> None:
        (folder / name).write_bytes(raw)
        read_logs([folder / name], demo())

    return read


def _reply(name: str) -> Callable[[bytes, Path], None]:
    def read(raw: bytes, folder: Path) -> None:
        (folder / name).write_bytes(raw)
        for verdict in judge([read_file(folder / name)], _ledger(), demo(), ()):
            told = f"{verdict}"
            assert not FORBIDDEN.search(told.replace("\\", "")), told

    return read


def _raise(faults: object) -> None:
    if faults:
        raise InputFaults(faults)  # type: ignore[arg-type]


def _files(*names: str) -> tuple[bytes, ...]:
    return tuple((STATIONS / name).read_bytes() for name in names)


DESKS = (
    Desk("station", _files("qm7tor.yaml", "qf4lum.yaml", "qj2kaw.yaml"), _station),
    Desk("season", _files("season.yaml"), _season),
    Desk("survey", (examples.SURVEY,), _survey),
    Desk("roster", (examples.ROSTER,), _roster),
    Desk("modes", (examples.MODES,), _modes),
    Desk("agenda", (examples.AGENDA,), _record_file(record.AGENDA)),
    Desk("corrections", (examples.CORRECTIONS,), _record_file(record.CORRECTIONS)),
    Desk("measurements", (examples.MEASUREMENTS,), _record_file(MEASUREMENTS)),
    Desk("ledger", (examples.LEDGER,), _record_file(record.LEDGER)),
    Desk("key of identifiers", (b"00112233445566778899aabbccddeeff\n",), _record_file(record.UID_KEY)),
    Desk("attempts", (examples.ATTEMPTS,), _attempts),
    Desk("flux", examples.FLUXES, _flux),
    Desk("log ADI", (examples.ADI,), _log("log.adi")),
    Desk("log ADX", (examples.ADX,), _log("log.adx")),
    Desk("log CSV", (examples.LOG_CSV,), _log("log.csv")),
    Desk("mail", examples.MAILS, _reply("reply.eml")),
    Desk("calendar", examples.CALENDARS, _reply("reply.ics")),
)
