"""Lines of an explanation that need the Moon above both horizons: path, antennas, noise, polarization, Doppler.

Every figure is taken from the pair's link as the plan works it out; only single terms of it are told apart here.
"""

from __future__ import annotations

from pipeline.explain.explain_signal import (
    GAUSSIAN,
    P676,
    column,
    degradation_section,
    echo_section,
    equipment_assumed,
    margin_section,
    number,
    part_title,
    signal_section,
)
from pipeline.explain.explain_sky import STATION_FILE
from pipeline.explain.explanation import Line, Section
from pipeline.explain.remarks import FeedNote, FeedRule, Remark
from pipeline.link import antenna
from pipeline.link.constants import MOON_ALBEDO, REPORT_BANDWIDTH_HZ
from pipeline.link.noise import PARTS, noise_power_dbw
from pipeline.link.path_loss import moon_disc_deg
from pipeline.link.polarization import faraday_rotation_deg, loss_cap_db, parallactic_angle_deg
from pipeline.link.signal import PathTerms
from pipeline.link.spread import half_power_share
from pipeline.pairs.budget import PairLink
from pipeline.pairs.ends import PairEnd
from pipeline.pairs.equipment import activity_of
from pipeline.radio_sky.sun_flux import f10_7_sfu, flux_sfu
from pipeline.record.inputs import Inputs

ITU_PATTERN = "Gaussian beam, ITU-R F.1245 averages"
LIGHT_TIME = "light-time equation, geocentric"


def link_sections(inputs: Inputs, band: str, home: PairEnd, partner: PairEnd, link: PairLink) -> list[Section]:
    """All sections of the link, in the order in which an engineer adds it up."""
    return [
        _path(home, partner, link),
        *(_antenna(band, end, link, name) for name, end in (("home", home), ("partner", partner))),
        *(_noise(inputs, band, end, link, name) for name, end in (("home", home), ("partner", partner))),
        _polarization(band, home, partner, link),
        _doppler(home, partner, link),
        signal_section(band, home, partner, link, "partner"),
        signal_section(band, partner, home, link, "home"),
        *(echo_section(band, end, link, name) for name, end in (("home", home), ("partner", partner))),
        margin_section(band, home, partner, link),
        degradation_section(home, partner, link),
    ]


def _path(home: PairEnd, partner: PairEnd, link: PairLink) -> Section:
    calls = f"{home.station.call} to {partner.station.call}"
    lines = (
        Line(
            "path loss",
            number(link.terms["partner"].path_loss_db),
            "dB",
            f"10 log10((4 pi)^3 r1^2 r2^2 / (sigma lambda^2)), sigma = {MOON_ALBEDO} pi R^2",
            "bistatic radar equation; Evans and Hagfors 1968",
        ),
        Line(
            f"air at {home.station.call}", number(home.air_db), "dB", f"one way, {home.atmosphere[0]} atmosphere", P676
        ),
        Line(
            f"air at {partner.station.call}",
            number(partner.air_db),
            "dB",
            f"one way, {partner.atmosphere[0]} atmosphere",
            P676,
        ),
        Line("echo delay", column(link, "echo_delay_s"), "s", f"{calls}, way up and way down", LIGHT_TIME),
    )
    return Section("Path", lines)


def _antenna(band: str, end: PairEnd, link: PairLink, name: str) -> Section:
    equipment, beam = end.equipment, end.receiver.beam
    of_antenna = equipment_assumed(end, band, "antenna")
    pointing_assumed = equipment_assumed(end, band, "pointing_error_deg") or of_antenna
    dish = equipment.antenna.dish_diameter_m
    if dish is not None:
        gain = f"eta (pi D / lambda)^2, D = {dish:g} m, eta = {equipment.antenna.aperture_efficiency:g}"
        width, source = "70 lambda / D", "antenna handbooks"
    else:
        gain, source = "as given", STATION_FILE
        given = equipment.antenna.beamwidth_deg is not None
        width = "as given" if given else "sqrt(eta 41253 / G), eta 0.65, below 1 GHz 0.785"
    main = antenna.main_beam_share(beam.beamwidth_deg, beam.gain_dbi, equipment.spillover_fraction)
    lines = (
        Line("gain", beam.gain_dbi, "dBi", gain, source, of_antenna),
        Line("beamwidth", beam.beamwidth_deg, "deg", width, source, of_antenna),
        Line(
            "pointing loss",
            number(antenna.pointing_loss_db(equipment.pointing_error_deg, beam.beamwidth_deg)),
            "dB",
            f"12 (e / beamwidth)^2, e = {equipment.pointing_error_deg:g} deg root mean square",
            GAUSSIAN,
            pointing_assumed,
        ),
        Line(
            "obstruction loss",
            number(antenna.obstruction_loss_db(end.clearance_deg, beam.beamwidth_deg)),
            "dB",
            "-20 log10 Phi(2.355 clearance / beamwidth), at most 40",
            "Gaussian aperture field cut by an edge",
        ),
        Line(
            "ground over the skyline",
            number(link.heard[name].skyline_noise_db),
            "dB",
            "noise now against flat ground at this elevation",
            "radiometer sum",
        ),
        Line("main beam", number(main), "", "1.133 beamwidth^2 G / 4 pi, at most 1 - spill-over", GAUSSIAN, of_antenna),
        Line(
            "of it below the horizon",
            number(end.pattern.shares.main_ground),
            "",
            "integral of the beam below the skyline",
            GAUSSIAN,
        ),
        Line(
            "of it filled by the Moon",
            number(antenna.disc_share(moon_disc_deg(end.seen.moon.range_km), beam.beamwidth_deg)),
            "",
            "1 - 2^-(d / beamwidth)^2",
            GAUSSIAN,
        ),
        Line(
            "ground gain",
            number(_ground_gain(link.echo_terms[name])),
            "dB",
            "declared; 144 and 432 MHz, below 10 degrees",
            STATION_FILE,
        ),
    )
    return Section(f"Antenna of {end.station.call}", lines)


def _ground_gain(own_echo: PathTerms) -> float:
    """One end's share: its own echo counts it twice."""
    return number(own_echo.ground_gain_db) / 2.0


def _noise(inputs: Inputs, band: str, end: PairEnd, link: PairLink, name: str) -> Section:
    heard, equipment = link.heard[name], end.equipment
    activity = activity_of(inputs.season.policy)
    flux = number(flux_sfu(end.frequency_mhz, activity))
    spill = equipment_assumed(end, band, "spillover_fraction")
    receiver = equipment_assumed(end, band, "noise_figure_db", "loss_before_preamplifier_db")
    beam = equipment_assumed(end, band, "antenna")
    sun = f"S A_e / 2k over the disc; S = {flux:.0f} sfu at F10.7 = {f10_7_sfu(activity):.0f}"
    words = {
        "sky": ("W (1 - u) T_sky + R T_rest", "Haslam and others 1982"),
        "moon": ("W u T_moon", "radiometer sum"),
        "sun": (sun if bool(end.sun_is_up[0]) else "below the horizon", "quiet table and slope, from memory"),
        "ground": (f"290 G, spill-over {equipment.spillover_fraction:g}", "radiometer sum"),
        "air": ("275 A", "ITU-R P.618, from memory"),
        "receiver": (
            f"290 (F - 1) + 290 (1 - 1/L), NF {equipment.noise_figure_db:g} dB, "
            f"L {equipment.loss_before_preamplifier_db:g} dB",
            "Friis",
        ),
    }
    assumed = {"ground": spill, "receiver": receiver, "sun": beam, "moon": beam}
    rests = spill or receiver or beam
    met, survey = end.pattern, "Haslam 1982; Guzman 2011; Platania 2003"
    lines = [
        Line("sky brightness in the beam", number(met.sky_k), "K", "(T408 - 2.7)(f / 408 MHz)^-beta + 2.7", survey),
        Line("sky brightness beside it", number(met.rest_k), "K", "the same under side lobes and back", survey),
        *(
            Line(title, number(share), "", integral, ITU_PATTERN, beam or spill)
            for title, share, integral in (
                ("main beam on open sky, W", met.shares.main_open, "the beam above the skyline, times t"),
                ("the rest on open sky, R", met.shares.rest_open, "side lobes and back above the skyline, times t"),
                ("ground, G", met.shares.ground, "the whole pattern below the skyline"),
                ("air, A", met.shares.air, "the whole pattern above the skyline, times 1 - t"),
            )
        ),
        Line(
            "Moon brightness",
            number(heard.moon_brightness_k),
            "K",
            "T0 + (T0 / M) cos(phi - xi)",
            "fit of the RATAN-600 handbook",
        ),
        *(
            Line(f"{part_title(part)} part", number(heard.now.part(part)), "K", *words[part], assumed.get(part, False))
            for part in PARTS
        ),
        Line("system temperature", number(heard.now.total_k), "K", "sum of the parts", "", rests),
        Line(
            "noise power",
            number(noise_power_dbw(heard.now.total_k, REPORT_BANDWIDTH_HZ)),
            "dBW",
            "10 log10(k T 2500 Hz)",
            "Nyquist",
            rests,
        ),
        Line("at its best", number(heard.best.total_k), "K", "coldest sky and Moon, zenith", "", rests),
    ]
    return Section(f"Noise at {end.station.call}", tuple(lines), Remark.NOISE_LETTERS)


def _polarization(band: str, home: PairEnd, partner: PairEnd, link: PairLink) -> Section:
    loss = link.polarization
    feeds = [
        Line(
            f"feed of {end.station.call}",
            end.equipment.polarization,
            "",
            "",
            STATION_FILE,
            equipment_assumed(end, band, "polarization"),
        )
        for end in (home, partner)
    ]
    angles = [
        Line(
            f"parallactic angle at {end.station.call}",
            number(
                parallactic_angle_deg(
                    end.seen.moon.azimuth_deg, end.seen.moon.elevation_deg, end.station.position.latitude_deg
                )
            ),
            "deg",
            "at the Moon, from the pole to the zenith",
            "Meeus 14.1, topocentric",
        )
        for end in (home, partner)
    ]
    cap = f"capped at {loss_cap_db(home.frequency_mhz):.0f} dB"
    # A vertical feed against a horizontal one stands turned already.
    crossed = (home.equipment.polarization == "vertical") != (partner.equipment.polarization == "vertical")
    standing, turned = (
        f"-20 log10 |{function} offset|, {cap}" for function in (("sin", "cos") if crossed else ("cos", "sin"))
    )
    both = (home.equipment.polarization, partner.equipment.polarization)
    circular = "two circular feeds, senses chosen for the reflection" if len(set(both)) == 1 else "linear to circular"
    turnable = (Line("loss, one turned by 90 deg", number(loss.turned_db), "dB", turned),)
    taken = "3 dB: rotation at random" if loss.faraday_decides else "one turned" if _turned(link) else "as they stand"
    lines = [
        *feeds,
        *angles,
        Line("offset", number(loss.offset_deg), "deg", "home's upright, mirrored at the Moon, to the partner's"),
        Line("loss, feeds as they stand", number(loss.standing_db), "dB", standing if loss.linear else circular),
        *(turnable if loss.who_can_turn != "neither" else ()),
        Line("loss taken", column(link, "polarization_loss_db"), "dB", taken),
        Line(
            "Faraday rotation, typical",
            number(faraday_rotation_deg(home.frequency_mhz)),
            "deg",
            "2 x 2.36e-14 B N / f^2, N = 1e17 per m2",
            "ITU-R P.531",
        ),
    ]
    return Section("Polarization", tuple(lines), _feed_note(home, partner, link))


def _turned(link: PairLink) -> bool:
    return bool(link.columns["feed_turned"][0])


def _feed_note(home: PairEnd, partner: PairEnd, link: PairLink) -> FeedNote:
    """How the feeds should stand, and who can turn one."""
    loss, calls = link.polarization, {"home": home.station.call, "partner": partner.station.call}
    who = tuple(call for end, call in calls.items() if loss.who_can_turn in (end, "either"))
    if not loss.linear:
        rule = FeedRule.CIRCULAR
    elif loss.faraday_decides:
        rule = FeedRule.FARADAY
    elif loss.who_can_turn == "neither":
        rule = FeedRule.FIXED
    else:
        rule = FeedRule.TURN if _turned(link) else FeedRule.LEAVE
    return FeedNote(rule, who)


def _doppler(home: PairEnd, partner: PairEnd, link: PairLink) -> Section:
    calls = (home.station.call, partner.station.call)
    shift = "-f d(light time) / dt"
    at = [f"at {end.transmit_mhz:g} MHz" for end in (home, partner)]
    share = float(half_power_share(home.frequency_mhz))
    lines = (
        Line(
            f"{calls[0]} heard at {calls[1]}",
            column(link, "doppler_home_to_partner_hz"),
            "Hz",
            f"{shift}, {at[0]}",
            LIGHT_TIME,
        ),
        Line(
            f"{calls[1]} heard at {calls[0]}",
            column(link, "doppler_partner_to_home_hz"),
            "Hz",
            f"{shift}, {at[1]}",
            LIGHT_TIME,
        ),
        Line(f"{calls[0]} own echo", column(link, "home_echo_doppler_hz"), "Hz", f"{shift}, {at[0]}", LIGHT_TIME),
        Line(f"{calls[1]} own echo", column(link, "partner_echo_doppler_hz"), "Hz", f"{shift}, {at[1]}", LIGHT_TIME),
        Line(
            "rate of the first",
            column(link, "doppler_rate_hz_per_s"),
            "Hz/s",
            "second difference of the light time",
            LIGHT_TIME,
        ),
        Line(
            "spread, limb to limb",
            column(link, "doppler_spread_hz"),
            "Hz",
            "2 R (f / c) |g1 + g2| across the line of sight",
            "Evans and Hagfors 1968; IAU rotation elements",
        ),
        Line(
            "spread, half power",
            number(link.half_power_width_hz),
            "Hz",
            f"{share:.2f} of limb to limb",
            "Evans 1962, Pettengill 1965, from memory",
        ),
    )
    return Section("Doppler and spread", lines)
