"""What follows from one station's file: antenna, receiver, own echo, noise checks, exposure.

From the station alone by the formulas of `link` and `radio_sky`: no instant, the Moon at its mean distance.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pipeline.explain.explanation import Line, Section, find_call, is_assumed
from pipeline.explain.measured_section import measured_section
from pipeline.explain.oddities import Oddity
from pipeline.explain.places import distance_km, place_oddities
from pipeline.explain.plausibility import oddities
from pipeline.explain.remarks import BelowExposureLevels, Remark, Sought
from pipeline.explain.usual_figures import unusual_of_station
from pipeline.inputs.lengths import AssumedSkyline
from pipeline.inputs.locator import locator_of
from pipeline.inputs.model import Policy, Station
from pipeline.inputs.modes import Mode
from pipeline.link import antenna
from pipeline.link.constants import MOON_MEAN_DISTANCE_KM
from pipeline.link.exposure import LOWEST_LEVEL_MHZ, ExposureDistances, exposure_distances, power_density_w_m2
from pipeline.link.noise import system_temperature
from pipeline.link.path_loss import moon_disc_deg
from pipeline.pairs.corrections import learnt_of
from pipeline.pairs.equipment import activity_of, frequency_of_mhz, radiator_of, receiver_of
from pipeline.pairs.measured import Measured, measured_of
from pipeline.pairs.noise_rises import ground_rise, moon_rise, sun_rise
from pipeline.pairs.own_echo import own_echo_db
from pipeline.pairs.pattern_met import antenna_of, cold_sky
from pipeline.radio_sky.air import air_loss_db, reference_atmosphere, zenith_air_loss_db
from pipeline.radio_sky.moon_brightness import moon_fit
from pipeline.radio_sky.sky_brightness import coldest_sky_k
from pipeline.radio_sky.sun_flux import f10_7_sfu, flux_sfu, flux_uncertainty
from pipeline.record.inputs import Inputs
from pipeline.record.model import Correction

SUN_ELEVATION_DEG = 30.0  # where the Sun is measured on a usual day: clear of trees and warm ground
DUTY = 0.5  # share of the time that is sent when periods alternate
CAUTION_PLACES_M = (10.0, 50.0)  # where people stand: beside the dish, across the yard


@dataclass(frozen=True)
class Known:
    """What is known of a station on a band beyond its file: by logs, and by its own readings of noise."""

    learnt: Correction | None = None
    measured: Measured | None = None


NOTHING = Known()


@dataclass(frozen=True)
class StationCheck:
    """One station on one band. `assumed` are dotted keys, `figures` the numbers of the lines.

    Nine unknown skylines in ten lie below `unknown_skyline_deg`.
    """

    station: Station
    band: str
    frequency_mhz: float
    sections: tuple[Section, ...]
    figures: dict[str, float]
    exposure: ExposureDistances | None
    assumed: tuple[str, ...]
    oddities: tuple[Oddity, ...]
    measured: Measured | None = None
    from_home_km: float | None = None
    unknown_skyline_deg: float = AssumedSkyline().nine_in_ten_deg

    @property
    def locator(self) -> str:
        """The locator of its place, in six characters."""
        place = self.station.position
        return locator_of(place.latitude_deg, place.longitude_deg, 6)


def check_station(
    station: Station,
    band: str,
    frequency_mhz: float,
    policy: Policy,
    month: int,
    modes: Sequence[Mode] = (),
    known: Known = NOTHING,
) -> StationCheck:
    """The figures of a station on a band it has; `month` (1 to 12) picks the reference atmosphere."""
    exposure, exposed = _exposure(station, band, frequency_mhz)
    sections = (
        _antenna(station, band, frequency_mhz),
        _hearing(station, band, frequency_mhz, policy, month),
        *(() if known.learnt is None else (_learnt(known.learnt),)),
        *(() if known.measured is None else (measured_section(known.measured),)),
        exposed,
    )
    return StationCheck(
        station=station,
        band=band,
        frequency_mhz=frequency_mhz,
        sections=sections,
        figures={
            line.quantity: float(line.value)
            for section in sections
            for line in section.lines
            if isinstance(line.value, int | float)
        },
        exposure=exposure,
        assumed=tuple(key for key in station.assumed if not key.startswith("bands.") or key.split(".")[1] == band),
        oddities=oddities(station, band, frequency_mhz, modes),
        measured=known.measured,
        unknown_skyline_deg=policy.assumed_skyline.nine_in_ten_deg,
    )


def check_stations(inputs: Inputs, month: int, call: str | None = None) -> list[StationCheck]:
    """Every station of the folder, home first, on each band its file knows, or one of them.

    Raises NotPossible for an unknown call.
    """
    stations = [inputs.home, *inputs.partners, *inputs.others]
    if call is not None:
        chosen = find_call(call, [station.call for station in stations], Sought.STATION)
        stations = [station for station in stations if station.call == chosen]
    checks = [
        check_station(
            station,
            band,
            frequency_of_mhz(inputs, station, band),
            inputs.season.policy,
            month,
            inputs.modes,
            Known(learnt_of(inputs, station.call, band), measured_of(inputs, station.call, band)),
        )
        for station in stations
        for band in station.bands
    ]
    home = inputs.home
    return [
        dataclasses.replace(
            check,
            from_home_km=None if check.station is home else distance_km(home.position, check.station.position),
            oddities=(
                *check.oddities,
                *place_oddities(check.station, home, _before(inputs, check.station)),
                *unusual_of_station(check.station),
            ),
        )
        for check in checks
    ]


def _before(inputs: Inputs, station: Station) -> tuple[Station, ...]:
    """Home and the partners up to a station: a copy is told of the later one."""
    known = [inputs.home, *inputs.partners]
    calls = [one.call for one in known]
    return tuple(known[: calls.index(station.call)] if station.call in calls else known)


def _antenna(station: Station, band: str, frequency_mhz: float) -> Section:
    equipment, beam = station.bands[band], receiver_of(station, band, frequency_mhz).beam
    assumed = is_assumed(station, f"bands.{band}.antenna")
    dish = equipment.antenna.dish_diameter_m
    how = (
        "as given"
        if dish is None
        else f"eta (pi D / lambda)^2, D = {dish:g} m, eta = {equipment.antenna.aperture_efficiency:g}"
    )
    width = "as given" if equipment.antenna.beamwidth_deg else "from the gain" if dish is None else "70 lambda / D"
    eirp_dbw = 10.0 * np.log10(equipment.power_w) + beam.gain_dbi
    pointing = float(antenna.pointing_loss_db(equipment.pointing_error_deg, beam.beamwidth_deg))
    lines = (
        Line("gain", beam.gain_dbi, "dBi", how, "antenna handbooks" if dish else "station file", assumed),
        Line("beamwidth", beam.beamwidth_deg, "deg", f"between half-power points, {width}", "", assumed),
        Line(
            "radiated on the axis",
            float(eirp_dbw),
            "dBW",
            f"{equipment.power_w:g} W at the feed + gain",
            "",
            assumed or is_assumed(station, f"bands.{band}.power_w"),
        ),
        Line(
            "pointing loss",
            pointing,
            "dB",
            f"12 (e / beamwidth)^2, e = {equipment.pointing_error_deg:g} deg root mean square; each way",
            "Gaussian beam",
            is_assumed(station, f"bands.{band}.pointing_error_deg"),
        ),
    )
    return Section("Antenna", lines)


def _hearing(station: Station, band: str, frequency_mhz: float, policy: Policy, month: int) -> Section:
    """Cold sky, own echo at the mean distance, and what Sun and Moon add to the noise."""
    equipment, receiver = station.bands[band], receiver_of(station, band, frequency_mhz)
    height = station.position.height_m
    atmosphere = reference_atmosphere(station.position.latitude_deg, month, policy.atmosphere)
    air = float(zenith_air_loss_db(frequency_mhz, atmosphere, height))
    sky_k = coldest_sky_k(receiver.beam.beamwidth_deg, frequency_mhz)
    disc = float(moon_disc_deg(np.array(MOON_MEAN_DISTANCE_KM)))
    mean_moon_k = float(moon_fit(frequency_mhz)[0])
    flat = antenna_of(station, receiver, frequency_mhz).over_flat_ground()
    met = cold_sky(flat, atmosphere, 0.0, 90.0)
    cold = system_temperature(receiver, met).total_k.item()
    on_moon = dataclasses.replace(met, moon_k=mean_moon_k, moon_disc_deg=disc)
    moon = system_temperature(receiver, on_moon).total_k.item()
    activity = activity_of(policy)
    flux = float(flux_sfu(frequency_mhz, activity))
    sun_air = float(air_loss_db(frequency_mhz, atmosphere, height, SUN_ELEVATION_DEG))
    from_ground = ground_rise(flat, atmosphere)
    from_sun = sun_rise(receiver, frequency_mhz, flux, flux_uncertainty(activity), met, sun_air)
    from_moon = moon_rise(receiver, mean_moon_k, disc, met, air)
    noise_assumed = is_assumed(
        station,
        *(f"bands.{band}.{key}" for key in ("noise_figure_db", "loss_before_preamplifier_db", "spillover_fraction")),
    )
    receiver_assumed = is_assumed(station, f"bands.{band}.noise_figure_db", f"bands.{band}.loss_before_preamplifier_db")
    whole_assumed = noise_assumed or is_assumed(
        station, *(f"bands.{band}.{key}" for key in ("antenna", "power_w", "pointing_error_deg"))
    )
    lines = (
        Line(
            "receiver",
            receiver.temperature_k,
            "K",
            f"NF {equipment.noise_figure_db:g} dB behind {equipment.loss_before_preamplifier_db:g} dB",
            "Friis",
            receiver_assumed,
        ),
        Line(
            "cold sky, whole system",
            cold,
            "K",
            f"zenith, {float(sky_k):.1f} K of sky, no Moon in the beam",
            "radiometer sum",
            noise_assumed,
        ),
        Line(
            "own echo at mean distance",
            _own_echo_db(station, band, frequency_mhz, 2.0 * air, moon),
            "dB",
            "in 2500 Hz; 384,400 km, zenith, coldest sky, Moon in the beam",
            "radio equation",
            whole_assumed,
        ),
        Line(
            "ground noise rise",
            from_ground.rise_db,
            "dB",
            f"± {from_ground.told_doubt_db:.1f} dB; cold sky at the zenith to the whole main beam on ground of 290 K, "
            "whatever the aim",
            "radiometer sum",
            noise_assumed,
        ),
        Line(
            "Sun noise rise",
            from_sun.rise_db,
            "dB",
            f"± {from_sun.told_doubt_db:.1f} dB; cold sky to Sun at {SUN_ELEVATION_DEG:.0f} deg elevation, "
            f"{flux:.0f} sfu at F10.7 = {f10_7_sfu(activity):.0f}",
            "flux table, from memory",
            noise_assumed,
        ),
        Line(
            "Moon noise rise",
            from_moon.rise_db,
            "dB",
            f"± {from_moon.told_doubt_db:.1f} dB; cold sky to Moon of {mean_moon_k:.0f} K and {disc:.2f} deg, zenith",
            "RATAN-600 handbook",
            noise_assumed,
        ),
    )
    return Section("Receiver and echo", lines)


def _learnt(correction: Correction) -> Section:
    """What the logs have taught; the figures above are those of the station's file alone."""
    sides = tuple(
        Line(side, value, "dB", f"± {doubt:.1f} dB, better (+) or worse than the file", correction)
        for side, value, doubt in (
            ("sending", correction.transmit_db, correction.transmit_uncertainty_db),
            ("receiving", correction.receive_db, correction.receive_uncertainty_db),
        )
    )
    share = None if correction.presence is None else round(100.0 * correction.presence)
    there = () if share is None else (Line("presence", share, "%", "agreed slots with nothing amiss", correction),)
    lines = (*(sides if correction.tells_sides else ()), *there)
    return Section("Learnt from the log", lines, Remark.CORRECTIONS_APART)


def _own_echo_db(station: Station, band: str, frequency_mhz: float, air_db: float, system_k: float) -> float:
    """At the Moon's mean distance, with what the file's pointing error costs both ways."""
    equipment, beam = station.bands[band], receiver_of(station, band, frequency_mhz).beam
    pointing = 2.0 * float(antenna.pointing_loss_db(equipment.pointing_error_deg, beam.beamwidth_deg))
    return own_echo_db(station, band, frequency_mhz, MOON_MEAN_DISTANCE_KM, air_db, system_k) - pointing


def _exposure(station: Station, band: str, frequency_mhz: float) -> tuple[ExposureDistances | None, Section]:
    """Distances on the axis for both groups, and the densities behind them."""
    radiator = radiator_of(station, band, frequency_mhz)
    title = "Exposure on the axis"
    if radiator.frequency_mhz < LOWEST_LEVEL_MHZ:
        return None, Section(title, (), BelowExposureLevels(radiator.frequency_mhz, LOWEST_LEVEL_MHZ))
    far = exposure_distances(radiator, DUTY)
    assumed = is_assumed(station, f"bands.{band}.antenna", f"bands.{band}.power_w")
    oet, icnirp = "FCC OET Bulletin 65", "ICNIRP 2020, whole body"
    averaged = f", {DUTY * 100:.0f} % of the time sent"
    lines = [
        *(
            Line(
                name,
                distance,
                "m",
                f"{'kept beyond this distance' if distance else 'kept in front of the dish, not at the feed'}{how}",
                icnirp,
                assumed,
                at_least=True,
            )
            for name, distance, how in (
                ("general public, peak", far.general_public_peak_m, ""),
                ("general public, averaged", far.general_public_average_m, averaged),
                ("occupational, peak", far.occupational_peak_m, ""),
                ("occupational, averaged", far.occupational_average_m, averaged),
            )
        ),
        *(
            Line(
                f"density at {place:.0f} m",
                float(power_density_w_m2(radiator, place)),
                "W/m2",
                "on the axis, full power",
                oet,
                assumed,
            )
            for place in CAUTION_PLACES_M
        ),
    ]
    if radiator.dish_diameter_m is not None:
        lines.append(
            Line(
                "near field ends at",
                radiator.near_limit_m,
                "m",
                "D^2 / (4 lambda); before it 16 eta P / (pi D^2)",
                oet,
                assumed,
            )
        )
    return far, Section(title, tuple(lines))
