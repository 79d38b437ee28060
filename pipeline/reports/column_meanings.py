"""What each column of the data files means, in a few words; the unit stands in its name (`tables.unit_of`).

`END` in a name is `home` or `partner`. DEVELOPERS.md prints them as a table, which the tests keep fresh.
"""

from __future__ import annotations

END = "END"
ENDS = ("home", "partner")
# One meaning for a name in whatever table; where two tables differ, the table's own goes first.
MEANINGS = {
    "night": "the night it belongs to",
    "partner": "the partner's call",
    "band": "the band of the pair",
    "time_utc": "instant of the sample",
    # windows
    "window_start_utc": "both ends have the Moon from here",
    "window_end_utc": "to here",
    "duration_min": "length of the window",
    "END_azimuth_start_deg": "azimuth of the Moon at the window's start, from true north",
    "END_elevation_start_deg": "its geometric elevation there",
    "END_apparent_elevation_start_deg": "the same with refraction",
    "END_azimuth_end_deg": "azimuth of the Moon at the window's end",
    "END_elevation_end_deg": "its geometric elevation there",
    "END_apparent_elevation_end_deg": "the same with refraction",
    "maximum_lower_elevation_deg": "greatest, over the samples, of the lower of both geometric elevations",
    "opens_by": "the rule that opens the window",
    "closes_by": "the rule that closes it",
    "best_time_utc": "the sample of least degradation",
    "degradation_least_db": "degradation of that sample",
    "degradation_mean_db": "mean over the window",
    "degradation_slot_db": "mean over the best slot",
    "slot_start_utc": "start of the slot",
    "slot_end_utc": "end of the slot",
    "doppler_spread_hz": "limb to limb spread of the echo",
    "polarization_loss_db": "loss by the two ends' polarizations",
    "polarization_loss_other_db": "the same with the feed the other way about",
    "polarization_advice": "how to set the feed, in words",
    "feed_turned": "whether the feed is taken to be turned",
    "spread_loss_db": "loss of the mode by the spread",
    "report_at_END_db": "expected report there, in 2500 Hz: mean over the slot",
    "margin_at_END_db": "signal above what the mode needs there",
    "worse_end": "the end with more degradation",
    "mode": "the mode that is planned",
    "chance": "probability of a contact in the slot",
    "outcome": "word for the chance",
    # samples
    "END_azimuth_deg": "azimuth of the Moon, from true north",
    "END_elevation_deg": "geometric elevation of the Moon",
    "END_refraction_deg": "what refraction adds to it",
    "END_range_km": "distance from the station to the Moon",
    "END_sun_separation_deg": "angle between Moon and Sun there",
    "END_sun_azimuth_deg": "azimuth of the Sun",
    "END_sun_elevation_deg": "geometric elevation of the Sun",
    "END_system_temperature_k": "noise of the whole receiving end, the sum of its six parts",
    "END_sky_k": "its part from the sky",
    "END_moon_k": "from the Moon",
    "END_sun_k": "from the Sun",
    "END_ground_k": "from the ground",
    "END_air_k": "from the air",
    "END_receiver_k": "from the receiver and its feed line",
    "END_echo_doppler_hz": "Doppler shift of the end's own echo",
    "END_echo_snr_db": "signal to noise of its own echo in 2500 Hz",
    "declination_deg": "declination of the Moon from the Earth's centre, true equator of date",
    "distance_km": "distance of the centres of Earth and Moon",
    "moon_lit_fraction": "lit share of the disc",
    "degradation_db": "decibels short of this equipment's best case, at the worse end",
    "degradation_distance_db": "its part by the distance; all parts are the worse end's",
    "degradation_sky_db": "by the sky's noise",
    "degradation_moon_db": "by the Moon's noise",
    "degradation_sun_db": "by the Sun's noise",
    "degradation_ground_db": "by the ground's noise",
    "degradation_air_db": "by the air's loss and noise",
    "echo_delay_s": "light time from home by way of the Moon to the partner",
    "doppler_home_to_partner_hz": "shift of home's signal at the partner",
    "doppler_partner_to_home_hz": "shift of the partner's signal at home",
    "doppler_rate_hz_per_s": "how fast the shift of home's signal at the partner moves",
    "polarization_offset_deg": "parallactic angle at the partner less that at home, folded to -90 to 90",
    "path_loss_db": "loss of the way to the Moon and back, reflection included",
    "snr_at_END_db": "signal to noise there in 2500 Hz",
    # nights
    "rank": "place among the nights of the period",
    "partners_in_reach": "partners with a window",
    "contacts_expected": "contacts that the best agenda of these nights alone should bring",
    "contacts_in_agenda": "contacts that the agenda would lose without this night's slots",
    "contacts_if_added": "contacts that this night would add to the agenda, its other slots as they are",
    "partners_usable": "who can be met within the hours of both ends, by call",
    "partners_heard": "who could be worked if both ends were always there, by call",
    "best_partner": "who has the best chance within the hours of both ends",
    "sun_separation_deg": "angle between Moon and Sun at home, where the Moon stands highest",
    "moon_highest_utc": "when the Moon stands highest at home",
    "home_moonrise_utc": "Moonrise of the night at home, at geometric elevation 0; empty where it does not rise",
    "home_moonset_utc": "Moonset of the night at home, at geometric elevation 0; empty where it does not set",
    "reason": "the rank in one sentence",
    "moon_elongation_deg": "angle between Moon and Sun from the Earth's centre",
    "possible": "whether the policy's nights and home's dates allow it",
    "no_slot_reason": "why it has no slot in the agenda, and what would do; empty where it has",
    # partners
    "windows": "how many windows the period has",
    "hours": "their length together",
    "usable_hours": "hours that lie in some slot that both ends can use",
    "best_night": "night of the best chance within the hours of both ends; empty where there is none",
    "no_window_reason": "why there is no window; empty where there is",
    "ground_distance_km": "length of the geodesic from home",
    "bearing_deg": "its bearing at home, from true north",
    # absences
    "cause": "why it has fewer slots than it wants",
    "second_cause": "another obstacle, where no change for one alone helps",
    "change": "what would do, as `--what-if` takes it, blanks between two; empty where nothing tried helps",
    # agenda
    "slot": "number of the slot, in order of time",
    "operator": "who operates home",
    "instead_of": "the letter of the slot that it may take the place of, if the partner chooses it",
    "home_local": "the slot by home's clock",
    "partner_local": "the slot by the partner's clock",
    "chance_met": "the chance times presence and, where a skyline is assumed, the share of places clear of it",
    "joint_chance": "probability of at least one contact, both ends on the air",
    "joint_chance_met": "the same with presence and assumed skylines",
    "state": "proposed, tentative or confirmed",
    "slot_outcome": "made, failed, absent or rained; past where nobody has said; empty ahead of the slot",
    "label": "the letter of the slot, for life",
    "uid": "identifier of the slot's invitation, for life; empty until letters were made",
    "opener": "the end that transmits first",
    "window": "the window in which it stands",
    "fall_back": "where to try again, in words",
    "fall_back_start_utc": "first fall-back, on the same night",
    "fall_back_end_utc": "its end",
    "second_fall_back_start_utc": "second one, later",
    "second_fall_back_end_utc": "its end",
    # trips
    "trips": "how many nights the best agenda of the row may have; a night costs nothing here, its hours do",
    "nights": "dates of these nights, blanks between",
    "night_added": "dates that the row before has not",
    "partners_added": "calls that have a slot here and in the row before none, blanks between",
    "hours_on_site": "from arriving before each night's first slot to the end of its last, packing not counted",
    "chosen": "whether the agenda has just these nights",
}
OWN_MEANINGS = {
    ("windows", "slot_start_utc"): "start of the best slot; empty where the Sun forbids each",
    ("windows", "polarization_loss_db"): "mean over the best slot of the loss by the two ends' polarizations",
    ("windows", "polarization_advice"): "how to set the feed at the slot's start, in words",
    ("windows", "spread_loss_db"): "mean over the best slot of the mode's loss by the spread",
    ("windows", "margin_at_home_db"): "mean over the best slot of the margin there",
    ("windows", "margin_at_partner_db"): "mean over the best slot of the margin there",
    ("windows", "worse_end"): "the end with more degradation in most of the best slot; the partner at a draw",
    ("windows", "chance"): "probability of a contact in the best slot",
    ("nights", "night"): "the night of the row",
    ("nights", "outcome"): "word of the best chance within the hours of both ends; nobody free, no window, past",
    ("nights", "degradation_db"): "median over the usable partners, each in the middle of its best slot",
    ("nights", "rank"): "place among the nights, by `contacts_expected`, then degradation, then date",
    ("absences", "slot_start_utc"): "start of the slot that it then has",
    ("absences", "chance"): "probability of a contact in that slot",
    ("agenda", "margin_at_home_db"): "mean over the slot of the margin there",
    ("agenda", "margin_at_partner_db"): "mean over the slot of the margin there",
    ("agenda", "doppler_spread_hz"): "mean spread over the slot, limb to limb",
    ("alternatives", "label"): "the letter of this time, for ever",
    ("alternatives", "slot_start_utc"): "start of the other time",
    ("alternatives", "slot_end_utc"): "end of it",
    ("partners", "chance"): "probability of a contact in the best slot that both ends can use",
    ("nights", "doppler_spread_hz"): "median over the usable partners, each in the middle of its best slot",
    ("windows", "doppler_spread_hz"): "mean spread over the best slot, limb to limb",
    (
        "nights",
        "declination_deg",
    ): "declination of the Moon from the Earth's centre, where the Moon stands highest at home",
    ("nights", "distance_km"): "distance of the centres of Earth and Moon, where the Moon stands highest at home",
    ("nights", "moon_lit_fraction"): "lit share of the disc, where the Moon stands highest at home",
}


def general_name(column: str) -> str:
    """A column's name with `END` for the end where both ends have it."""
    if column in MEANINGS:
        return column
    names = (f"{column}_".replace(f"_{end}_", f"_{END}_").rstrip("_") for end in ENDS)
    starts = (END + column.removeprefix(end) for end in ENDS if column.startswith(f"{end}_"))
    return next((name for name in (*starts, *names) if name in MEANINGS), column)


def meaning_of(table: str, column: str) -> str:
    """What a column means. Raises KeyError where nobody has said it."""
    return OWN_MEANINGS.get((table, column)) or MEANINGS[general_name(column)]
