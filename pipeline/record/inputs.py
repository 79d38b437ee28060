"""Everything one run reads: the season and its stations, and the record beside them; all faults of all files in one go.

The room `inputs` knows nothing of what has been agreed and learnt; here the two are joined, for every command.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Sequence
from dataclasses import field
from pathlib import Path

from pydantic.dataclasses import dataclass

from pipeline.inputs.faults import InputFaults
from pipeline.inputs.kinds import CONFIG
from pipeline.inputs.model import WEEKDAYS, SeasonFiles
from pipeline.inputs.reading import read_season_files
from pipeline.inputs.what_if import Change
from pipeline.record.model import Record
from pipeline.record.reading import read_record


@dataclass(config=CONFIG)
class Inputs(SeasonFiles):
    """Season, stations and record; `files` holds the hashes of all of them.

    `planned_from` is the first date for which anything is planned; None where it is the season's own, or is still to be
    found from the record (`windows.beginning`). `observed_flux` are rising days, each with the 10.7 cm flux seen on it,
    solar flux units.
    """

    record: Record = field(default_factory=Record)
    planned_from: dt.date | None = None
    observed_flux: tuple[tuple[dt.date, float], ...] = ()

    def is_past(self, night: dt.date) -> bool:
        """Whether nothing is planned for a night any more."""
        return self.planned_from is not None and night < self.planned_from

    def is_possible(self, night: dt.date) -> bool:
        """Whether a night is still ahead, the policy takes it and home is not away."""
        is_taken = WEEKDAYS[night.weekday()] in self.season.policy.nights
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
    faults = [*read.faults, *record.faults]
    if faults or read.files is None:
        raise InputFaults(faults)
    held = {one.name: getattr(read.files, one.name) for one in dataclasses.fields(SeasonFiles)}
    held["files"] = read.files.files | record.files
    held["warnings"] = (*read.files.warnings, *record.warnings)
    return Inputs(**held, record=record.record, planned_from=planned_from)
