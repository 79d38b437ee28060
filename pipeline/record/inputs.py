"""Everything one run reads: the season and its stations, and the record beside them; all faults of all files in one go.

The room `inputs` knows nothing of what has been agreed and learnt; here the two are joined, for every command.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import hashlib
from collections.abc import Sequence
from dataclasses import field
from pathlib import Path

from pydantic.dataclasses import dataclass

from pipeline.inputs.faults import Fault, InputFaults
from pipeline.inputs.kinds import CONFIG
from pipeline.inputs.model import WEEKDAYS, Season, SeasonFiles, Station
from pipeline.inputs.observed_flux import Days, flux_in
from pipeline.inputs.reading import read_season_files
from pipeline.inputs.sites import at_site
from pipeline.inputs.what_if import Change
from pipeline.inputs.yaml_tree import printable, read_bytes
from pipeline.record.model import AGENDA, FOLDER, Record
from pipeline.record.reading import read_record


@dataclass(config=CONFIG)
class Inputs(SeasonFiles):
    """Season, stations and record; `files` holds the hashes of all of them.

    `planned_from` is the first date for which anything is planned; None where it is the season's own, or is still to be
    found from the record (`windows.beginning`). `observed_flux` are rising days, each with the 10.7 cm flux seen on it,
    solar flux units. `sites` names where home stands on which night, where it moves between its sites; on any other it
    stands at the place of its file.
    """

    record: Record = field(default_factory=Record)
    planned_from: dt.date | None = None
    observed_flux: tuple[tuple[dt.date, float], ...] = ()
    sites: dict[dt.date, str] = field(default_factory=dict)

    def home_at(self, site: str) -> Station:
        """Home at one of its sites; at the place of its file where none has that name."""
        return next((at_site(self.home, one) for one in self.home.sites if one.name == site), self.home)

    def home_on(self, night: dt.date) -> Station:
        """Home where it stands on a night."""
        return self.home_at(self.sites.get(night, ""))

    def on_night(self, night: dt.date) -> Inputs:
        """The inputs as one who looks at that night alone takes them: home stands at one place."""
        return dataclasses.replace(self, home=self.home_on(night), sites={}) if self.sites else self

    @property
    def homes(self) -> tuple[Station, ...]:
        """Home at the place of its file, then at every other where it stands on some night."""
        others = set(self.sites.values()) - {self.home.title}
        return (self.home, *(at_site(self.home, one) for one in self.home.sites if one.name in others))

    def is_past(self, night: dt.date) -> bool:
        """Whether nothing is planned for a night any more."""
        return self.planned_from is not None and night < self.planned_from

    def is_possible(self, night: dt.date) -> bool:
        """Whether a night is still ahead, the policy takes it and home is not away.

        A public holiday counts as a Sunday, the evening before one as a Saturday.
        """
        weekdays = {WEEKDAYS[night.weekday()]}
        weekdays |= {"sun"} if self.home.is_holiday(night) else set()
        weekdays |= {"sat"} if self.home.is_holiday(night + dt.timedelta(days=1)) else set()
        is_taken = not weekdays.isdisjoint(self.season.policy.nights)
        return is_taken and not self.is_past(night) and not self.home.is_away(night)


def read_inputs(
    season_file: Path, month: str | None = None, changes: Sequence[Change] = (), planned_from: dt.date | None = None
) -> Inputs:
    """Everything one run needs, read from the season file and its folder.

    `month` (YYYY-MM) takes the place of the season's months and dates; `changes` are tried without touching a file;
    `planned_from` is the date that was asked for.
    Raises InputFaults with every fault found.
    """
    read = read_season_files(Path(season_file), month, changes)
    record = read_record(Path(season_file).parent, read.season, read.home_call, read.calls)
    flux, flux_hash, flux_faults = _observed_flux(Path(season_file).parent, read.season)
    faults = [*read.faults, *record.faults, *flux_faults]
    if faults or read.files is None:
        raise InputFaults(faults)
    held = {one.name: getattr(read.files, one.name) for one in dataclasses.fields(SeasonFiles)}
    held["files"] = read.files.files | record.files | flux_hash
    held["warnings"] = (*read.files.warnings, *record.warnings, *_sites_gone(read.files, record.record))
    return Inputs(**held, record=record.record, planned_from=planned_from, observed_flux=flux)


def _sites_gone(read: SeasonFiles, record: Record) -> list[str]:
    """A sentence for each line of the record that names a site of which home's file knows nothing any more."""
    names = {one.name for one in read.home.sites}
    return [
        f"{FOLDER}/{AGENDA}, line {one.line}: home has no site {printable(one.site)} (any more); the slot is taken to "
        "stand at the place of home's file."
        for one in record.answers
        if one.site and one.site not in names
    ]


def _observed_flux(folder: Path, season: Season | None) -> tuple[Days, dict[str, str], tuple[Fault, ...]]:
    """The flux of `policy.solar_flux_file` beside the season, its hash by name, and its fault."""
    name = season.policy.solar_flux_file if season else None
    if name is None:
        return (), {}, ()
    try:
        raw = read_bytes(folder / name)
        return flux_in(raw, name), {name: hashlib.sha256(raw).hexdigest()}, ()
    except InputFaults as found:
        return (), {}, found.faults
