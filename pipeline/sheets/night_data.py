"""pointing.csv: where the Moon stands each minute of the pass, for a rotator or a spreadsheet.

From the night's track and slots.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from pipeline.operating.night_track import NightTrack
from pipeline.plan.tonight import Offsets
from pipeline.plan.views import Slot
from pipeline.reports.precision import rounded_table
from pipeline.sheets.readings import Readings


def pointing_table(track: NightTrack, slots: Sequence[Slot], shown: Readings, offsets: Offsets) -> pd.DataFrame:
    """A row for each whole minute of the pass, with what the dials show and the offsets that are in it."""
    partner = np.full(track.time_s.size, "", dtype=object)
    for slot in slots:
        partner[(track.time_utc >= slot.start) & (track.time_utc <= slot.end)] = slot.call
    return pd.DataFrame(
        {
            "time_utc": [f"{moment:%Y-%m-%dT%H:%M:%SZ}" for moment in track.time_utc],
            "slot_partner": partner,
            "azimuth_deg": track.moon.azimuth_deg,
            "apparent_elevation_deg": track.apparent_elevation_deg,
            "dial_deg": shown.dial_deg,
            "inclinometer_deg": shown.inclinometer_deg,
            "dial_offset_deg": offsets.of_dial(),
            "inclinometer_offset_deg": shown.inclinometer_offset_deg,
            "elevation_deg": track.moon.elevation_deg,
            "range_km": track.moon.range_km,
            "skyline_deg": track.skyline_deg,
            "clear_of_skyline": _yes_no(track.clear),
            "within_mount_reach": _yes_no(track.reached),
            "above_minimum_elevation": _yes_no(track.high_enough),
            "home_echo_doppler_hz": track.home_echo_doppler_hz,
            "echo_delay_s": track.echo_delay_s,
            "sun_azimuth_deg": track.sun.azimuth_deg,
            "sun_apparent_elevation_deg": track.sun_apparent_elevation_deg,
            "sun_separation_deg": track.sun_separation_deg,
        }
    )


def _yes_no(mask: np.ndarray) -> np.ndarray:
    return np.where(mask, "yes", "no")


def pointing_csv(track: NightTrack, slots: Sequence[Slot], shown: Readings, offsets: Offsets) -> str:
    """The digits that are known, more than any rotator turns by."""
    text: str = rounded_table(pointing_table(track, slots, shown, offsets)).to_csv(index=False, lineterminator="\n")
    return text
