"""What is known of the season that a line names: calls, clocks and nights; read where a slip wants it, and once."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from pipeline.commands.common import DEFAULT_OUT, DEFAULT_SEASON, utc_today
from pipeline.commands.finding import season_found
from pipeline.inputs.moments_said import Season

if TYPE_CHECKING:
    from pipeline.record.inputs import Inputs

# Words for one's own station.
OURS = ["home", "me", "my", "mine", "us", "own", "our", "self", "own-station"]
# A locator of a square or finer, wherever it stands in a line.
LOCATOR = re.compile(r"[A-Ra-r]{2}\d\d([A-Xa-x]{2}(\d\d([A-Xa-x]{2})?)?)?", re.ASCII)
A_YEAR = dt.timedelta(days=365)


class AtHand:
    """The season of a line; every answer is empty where its files cannot be read."""

    def __init__(self, words: Sequence[str]) -> None:
        self.file, self._out, self._month = DEFAULT_SEASON, DEFAULT_OUT, None
        self.locator = next(filter(LOCATOR.fullmatch, words), "")
        for word, after in zip(words, [*words[1:], ""], strict=False):
            option, equals, value = word.partition("=")
            if option == "--season":
                self.file = season_found(Path(value if equals else after))
            if option == "--out":
                self._out = Path(value if equals else after)
            if option == "--month":
                self._month = value if equals else after

    @cached_property
    def inputs(self) -> Inputs | None:
        """Season, stations and record; None where they cannot be read."""
        from pipeline.inputs.faults import InputFaults
        from pipeline.record.inputs import read_inputs

        for month in dict.fromkeys((self._month, None)):
            try:
                return read_inputs(season_found(self.file), month)
            except (InputFaults, OSError, ValueError):
                continue
        return None

    @property
    def names_month(self) -> bool:
        """Whether the line names a month."""
        return self._month is not None

    @property
    def partners(self) -> list[str]:
        return [one.call for one in self.inputs.partners] if self.inputs else []

    @property
    def home(self) -> str:
        return self.inputs.home.call if self.inputs else ""

    @property
    def zone(self) -> ZoneInfo | None:
        return self.inputs.zone if self.inputs else None

    def call_of(self, name: str) -> str:
        """The call of the one partner whose operator or site has that name; empty where it is none or several."""
        said = name.casefold().strip(" ,;")
        if said in OURS:
            return self.home
        stations = (self.inputs.home, *self.inputs.partners) if self.inputs and len(said) > 2 else ()
        of_file = [
            one.call for one in stations if Path(said).name in (one.file.casefold(), f"{one.call.casefold()}.yaml")
        ]
        if of_file:
            return of_file[0]
        found = [
            one.call
            for one in stations
            if said in " ".join(filter(None, (one.operator, one.name))).casefold().replace(",", " ").split()
            or said.strip("<>").removeprefix("mailto:") == (one.email or "").casefold()
        ]
        return found[0] if len(found) == 1 else ""

    def partner_of(self, word: str) -> str:
        """The call of the partner that a word names by call, name, file or address; empty where it is none."""
        call = word.upper().strip(",;:")
        call = call if call in self.partners else self.call_of(word)
        return call if call in self.partners else ""

    @property
    def out(self) -> Path:
        """The folder of outputs."""
        return self._out

    def night_logs(self, call: str = "") -> list[tuple[str, Path]]:
        """The nights whose sheets are there, each with its log, those without a slot first; of a partner those in which
        it has one.
        """
        logs = sorted(self._out.glob("*/nights/*/log.csv"), key=lambda one: (_has_lines(one), one))
        if call:
            nights = {f"{one:%Y-%m-%d}" for one in self.nights_of(call)}
            logs = [one for one in logs if one.parent.name in nights]
        return [(one.parent.name, one) for one in logs]

    def nights_of(self, call: str = "") -> list[dt.date]:
        """The nights of the plan on disk, or those in which a partner has a slot."""
        return sorted({night for one, night, _ in self._agenda() if call in ("", one)})

    def _agenda(self) -> list[tuple[str, dt.date, str]]:
        """Partner, night and letter of each slot of the plan on disk; none where it cannot be read."""
        import csv

        from pipeline.windows.span import span_of

        if self.inputs is None:
            return []
        file = self._out / span_of(self.inputs, utc_today()).name / "data" / "agenda.csv"
        try:
            with file.open(encoding="utf-8", newline="") as stream:
                rows = list(csv.DictReader(stream))
            return [(row["partner"], dt.date.fromisoformat(row["night"]), row["label"]) for row in rows]
        except (OSError, ValueError, KeyError, TypeError, csv.Error):
            return []

    def labels_of(self, call: str) -> list[str]:
        """The letters of a partner's slots in the plan on disk."""
        return sorted({label for one, _, label in self._agenda() if one == call})

    def slot_start(self, call: str, label: str) -> dt.datetime | None:
        """When a slot of a partner begins, by the plan on disk, UTC."""
        from pipeline.letters.offered import AnswerFault, in_agenda
        from pipeline.windows.span import span_of

        if self.inputs is None:
            return None
        try:
            rows = in_agenda(call.upper(), self._out / span_of(self.inputs, utc_today()).name / "data" / "agenda.csv")
        except AnswerFault:
            return None
        return next((one.start_utc for one in rows if one.label == label.upper()), None)

    def file_of(self, call: str) -> Path:
        """The file of a station, beside the season's."""
        stations = (self.inputs.home, *self.inputs.partners) if self.inputs else ()
        return self.file.parent / next((one.file for one in stations if one.call == call), f"{call.lower()}.yaml")

    def zone_of(self, call: str) -> ZoneInfo | None:
        """A partner's zone."""
        if self.inputs is None or call.upper() not in self.partners:
            return None
        return self.inputs.partner(call.upper()).zone

    @cached_property
    def season(self) -> Season:
        """The dates of the season; without one those of a year from today on."""
        from pipeline.windows.span import span_of

        today = utc_today()
        if self.inputs is None:
            return Season(today, today + A_YEAR, today)
        span = span_of(self.inputs, today)
        return Season(span.first_night, span.last_night, today)


def _has_lines(log: Path) -> bool:
    """Whether a log has a line beneath its head."""
    try:
        with log.open(encoding="utf-8", errors="replace") as stream:
            return any(line.strip() for line in list(stream)[1:])
    except OSError:
        return False
