"""Lines of an explanation that need the Moon above both horizons: path, antennas, noise, signal, margin, degradation.

Every figure is taken from the pair's link as the plan works it out; only single terms of it are told apart here.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from pipeline.inputs.model import Inputs
from pipeline.inputs.modes import Mode
from pipeline.link import antenna
from pipeline.link.constants import MOON_ALBEDO, REPORT_BANDWIDTH_HZ
from pipeline.link.noise import DEGRADATION_PARTS, PARTS, noise_power_dbw
from pipeline.link.polarization import faraday_rotation_deg, loss_cap_db, parallactic_angle_deg
from pipeline.link.signal import PathTerms, spread_loss_db
from pipeline.link.spread import half_power_share
from pipeline.planning.budget import PairLink
from pipeline.planning.equipment import activity_of
from pipeline.planning.explain_sky import STATION_FILE
from pipeline.planning.explanation import Line, Section, is_assumed
from pipeline.planning.pair import PairEnd
from pipeline.planning.reception import moon_disc_deg
from pipeline.radio_sky.sun_flux import f10_7_sfu, flux_sfu

MODE_TABLE = "mode table, from memory"
LINK_EQUATION = "radio equation in decibels"
P676 = "ITU-R P.676-12 line by line through P.835-6"
LIGHT_TIME = "light-time equation, geocentric"
GAUSSIAN = "Gaussian beam"


def link_sections(
    inputs: Inputs, band: str, home: PairEnd, partner: PairEnd, link: PairLink, settled_by_window: bool
) -> list[Section]:
    """All sections of the link, in the order in which an engineer adds it up."""
    return [
        _path(home, partner, link),
        *(_antenna(band, end, link, name) for name, end in (("home", home), ("partner", partner))),
        *(_noise(inputs, band, end, link, name) for name, end in (("home", home), ("partner", partner))),
        _polarization(band, home, partner, link, settled_by_window),
        _doppler(home, partner, link),
        _signal(band, home, partner, link, "partner"),
        _signal(band, partner, home, link, "home"),
        *(_echo(band, end, link, name) for name, end in (("home", home), ("partner", partner))),
        _margin(band, home, partner, link, settled_by_window),
        _degradation(home, partner, link),
    ]


def number(value: npt.ArrayLike) -> float:
    """The one figure of a one-sample array."""
    return float(np.ravel(np.asarray(value, dtype=float))[0])


def _column(link: PairLink, name: str) -> float:
    return number(link.columns[name].astype(float))


def _equipment_assumed(end: PairEnd, band: str, *keys: str) -> bool:
    return is_assumed(end.station, *(f"bands.{band}.{key}" for key in keys))


def _path(home: PairEnd, partner: PairEnd, link: PairLink) -> Section:
    calls = f"{home.station.call} to {partner.station.call}"
    lines = (
        Line("path loss", number(link.terms.path_loss_db), "dB",
             f"10 log10((4 pi)^3 r1^2 r2^2 / (sigma lambda^2)), sigma = {MOON_ALBEDO} pi R^2",
             "bistatic radar equation; Evans and Hagfors 1968"),
        Line(f"air at {home.station.call}", number(home.air_db), "dB", f"one way, {home.atmosphere} atmosphere", P676),
        Line(f"air at {partner.station.call}", number(partner.air_db), "dB",
             f"one way, {partner.atmosphere} atmosphere", P676),
        Line("echo delay", _column(link, "echo_delay_s"), "s", f"{calls}, way up and way down", LIGHT_TIME),
    )  # fmt: skip
    return Section("Path", lines)


def _antenna(band: str, end: PairEnd, link: PairLink, name: str) -> Section:
    equipment, beam = end.equipment, end.receiver.beam
    of_antenna = _equipment_assumed(end, band, "antenna")
    pointing_assumed = _equipment_assumed(end, band, "pointing_error_deg") or of_antenna
    dish = equipment.antenna.dish_diameter_m
    if dish is not None:
        gain = f"eta (pi D / lambda)^2, D = {dish:g} m, eta = {equipment.antenna.aperture_efficiency:g}"
        width, source = "70 lambda / D", "antenna handbooks"
    else:
        gain, source = "as given", STATION_FILE
        width = "as given" if equipment.antenna.beamwidth_deg is not None else "sqrt(eta 41253 / G)"
    main = antenna.main_beam_share(beam.beamwidth_deg, beam.gain_dbi, equipment.spillover_fraction)
    lines = (
        Line("gain", beam.gain_dbi, "dBi", gain, source, of_antenna),
        Line("beamwidth", beam.beamwidth_deg, "deg", width, source, of_antenna),
        Line("pointing loss", number(antenna.pointing_loss_db(equipment.pointing_error_deg, beam.beamwidth_deg)), "dB",
             f"12 (e / beamwidth)^2, e = {equipment.pointing_error_deg:g} deg root mean square", GAUSSIAN,
             pointing_assumed),
        Line("obstruction loss", number(antenna.obstruction_loss_db(end.clearance_deg, beam.beamwidth_deg)), "dB",
             "-20 log10 Phi(2.355 clearance / beamwidth)", "Gaussian aperture field cut by an edge"),
        Line("main beam", number(main), "", "1.133 beamwidth^2 G / 4 pi, at most 1 - spill-over", GAUSSIAN, of_antenna),
        Line("of it below the horizon", number(antenna.ground_share(end.clearance_deg, beam.beamwidth_deg)), "",
             "Phi(-2.355 clearance / beamwidth)", GAUSSIAN),
        Line("of it filled by the Moon", number(antenna.disc_share(moon_disc_deg(end.seen.moon.range_km), beam.beamwidth_deg)),
             "", "1 - 2^-(d / beamwidth)^2", GAUSSIAN),
        Line("ground gain", number(_ground_gain(link.echo_terms[name])), "dB",
             "declared; 144 and 432 MHz, below 10 degrees", STATION_FILE),
    )  # fmt: skip
    return Section(f"Antenna of {end.station.call}", lines)


def _ground_gain(own_echo: PathTerms) -> float:
    """One end's share: its own echo counts it twice."""
    return number(own_echo.ground_gain_db) / 2.0


def _noise(inputs: Inputs, band: str, end: PairEnd, link: PairLink, name: str) -> Section:
    heard, equipment = link.heard[name], end.equipment
    activity = activity_of(inputs.season.policy)
    flux = number(flux_sfu(end.frequency_mhz, activity))
    spill = _equipment_assumed(end, band, "spillover_fraction")
    receiver = _equipment_assumed(end, band, "noise_figure_db", "loss_before_preamplifier_db")
    sun = f"S A_e / 2k over the disc; S = {flux:.0f} sfu at F10.7 = {f10_7_sfu(activity):.0f}"
    words = {
        "sky": ("m (1 - g)(1 - u) T_sky t + (1 - m - s) T_sky t", "Haslam and others 1982"),
        "moon": ("m (1 - g) u T_moon t", "radiometer sum"),
        "sun": (sun if bool(end.sun_is_up[0]) else "below the horizon", "quiet table and slope, from memory"),
        "ground": (f"290 (m g + s), s = {equipment.spillover_fraction:g}", "radiometer sum"),
        "air": ("(1 - s - m g) 275 (1 - t)", "ITU-R P.618, from memory"),
        "receiver": (
            f"290 (F - 1) + 290 (1 - 1/L), NF {equipment.noise_figure_db:g} dB, "
            f"L {equipment.loss_before_preamplifier_db:g} dB",
            "Friis",
        ),
    }
    assumed = {"ground": spill, "receiver": receiver, "sun": True}
    lines = [
        Line("sky brightness in the beam", _given(heard.sky_brightness_k), "K",
             "(T408 - 2.7)(f / 408 MHz)^-beta + 2.7", "Haslam 1982; Guzman 2011; Platania 2003"),
        Line("Moon brightness", _given(heard.moon_brightness_k), "K", "T0 + (T0 / M) cos(phi - xi)",
             "fit of the RATAN-600 handbook"),
        *(
            Line(f"{part} part", number(heard.now.part(part)), "K", *words[part], assumed.get(part, False))
            for part in PARTS
        ),
        Line("system temperature", number(heard.now.total_k), "K", "sum of the parts"),
        Line("noise power", number(noise_power_dbw(heard.now.total_k, REPORT_BANDWIDTH_HZ)), "dBW",
             "10 log10(k T 2500 Hz)", "Nyquist"),
        Line("at its best", number(heard.best.total_k), "K", "coldest sky and Moon, zenith"),
    ]  # fmt: skip
    note = (
        "Behind the loss ahead of the preamplifier. m main beam, g below the horizon, u filled by the Moon, "
        "s spill-over, t passed by the air."
    )
    return Section(f"Noise at {end.station.call}", tuple(lines), note)


def _given(values: npt.NDArray[np.float64] | None) -> float | None:
    return None if values is None else number(values)


def _polarization(band: str, home: PairEnd, partner: PairEnd, link: PairLink, settled: bool) -> Section:
    loss = link.polarization
    feeds = [
        Line(f"feed of {end.station.call}", end.equipment.polarization, "", "", STATION_FILE,
             _equipment_assumed(end, band, "polarization"))
        for end in (home, partner)
    ]  # fmt: skip
    angles = [
        Line(f"parallactic angle at {end.station.call}", number(parallactic_angle_deg(
            end.seen.moon.azimuth_deg, end.seen.moon.elevation_deg, end.station.position.latitude_deg)), "deg",
            "at the Moon, from the pole to the zenith", "Meeus 14.1, topocentric")
        for end in (home, partner)
    ]  # fmt: skip
    cap = f"capped at {loss_cap_db(home.frequency_mhz):.0f} dB"
    standing = f"-20 log10 |cos|, {cap}" if loss.linear else "circular feed"
    taken = "3 dB: rotation at random" if loss.faraday_decides else "one turned" if _turned(link) else "as they stand"
    lines = [
        *feeds,
        *angles,
        Line("offset", number(loss.offset_deg), "deg", "partner's angle - home's, folded to -90..90"),
        Line("loss, feeds as they stand", number(loss.standing_db), "dB", standing, "judgement on the cap"),
        Line("loss, one turned by 90 deg", number(loss.turned_db), "dB", f"-20 log10 |sin|, {cap}" if loss.linear else ""),
        Line("loss taken", _column(link, "polarization_loss_db"), "dB", taken),
        Line("Faraday rotation, typical", number(faraday_rotation_deg(home.frequency_mhz)), "deg",
             "2 x 2.36e-14 B N / f^2, N = 1e17 per m2", "ITU-R P.531"),
    ]  # fmt: skip
    return Section("Polarization", tuple(lines), _advice(home, partner, link, settled))


def _turned(link: PairLink) -> bool:
    return bool(link.columns["feed_turned"][0])


def _advice(home: PairEnd, partner: PairEnd, link: PairLink, settled: bool) -> str:
    loss = link.polarization
    if not loss.linear:
        return "A circular feed takes part: the offset does not matter."
    if loss.faraday_decides:
        return "Faraday rotation decides on this band: the offset is no guide."
    who = {"home": home.station.call, "partner": partner.station.call, "either": "either end"}.get(loss.who_can_turn)
    if who is None:
        return "Neither feed can be turned."
    span = "for this window" if settled else "at this instant"
    return f"Turn one feed by 90 degrees {span}: {who} can." if _turned(link) else f"Leave the feeds as they stand {span}."


def _doppler(home: PairEnd, partner: PairEnd, link: PairLink) -> Section:
    calls = (home.station.call, partner.station.call)
    shift = "-f d(light time) / dt"
    at = [f"at {end.transmit_mhz:g} MHz" for end in (home, partner)]
    share = float(half_power_share(home.frequency_mhz))
    lines = (
        Line(f"{calls[0]} heard at {calls[1]}", _column(link, "doppler_home_to_partner_hz"), "Hz", f"{shift}, {at[0]}", LIGHT_TIME),
        Line(f"{calls[1]} heard at {calls[0]}", _column(link, "doppler_partner_to_home_hz"), "Hz", f"{shift}, {at[1]}", LIGHT_TIME),
        Line(f"{calls[0]} own echo", _column(link, "home_echo_doppler_hz"), "Hz", f"{shift}, {at[0]}", LIGHT_TIME),
        Line(f"{calls[1]} own echo", _column(link, "partner_echo_doppler_hz"), "Hz", f"{shift}, {at[1]}", LIGHT_TIME),
        Line("rate of the first", _column(link, "doppler_rate_hz_per_s"), "Hz/s", "second difference of the light time", LIGHT_TIME),
        Line("spread, limb to limb", _column(link, "doppler_spread_hz"), "Hz", "2 R (f / c) |g1 + g2| across the line of sight",
             "Evans and Hagfors 1968; IAU rotation elements"),
        Line("spread, half power", number(link.half_power_width_hz), "Hz", f"{share:.2f} of limb to limb",
             "Evans 1962, Pettengill 1965, from memory"),
    )  # fmt: skip
    return Section("Doppler and spread", lines)


def _budget_lines(
    sender: PairEnd, receiver: PairEnd, terms: PathTerms, temperature_k: npt.NDArray[np.float64], snr_db: float, band: str
) -> list[Line]:
    gains = _equipment_assumed(sender, band, "antenna") or _equipment_assumed(receiver, band, "antenna")
    pointing = any(_equipment_assumed(end, band, "pointing_error_deg", "antenna") for end in (sender, receiver))
    lines = [
        Line("power at the feed", 10.0 * np.log10(sender.equipment.power_w), "dBW", f"10 log10({sender.equipment.power_w:g} W)",
             STATION_FILE, _equipment_assumed(sender, band, "power_w")),
        Line("+ gains", number(terms.gains_dbi), "dBi", "both antennas", "", gains),
    ]  # fmt: skip
    if number(terms.ground_gain_db):
        lines.append(Line("+ ground gain", number(terms.ground_gain_db), "dB", "both ends"))
    lines += [
        Line("- path loss", number(terms.path_loss_db), "dB"),
        Line("- air", number(terms.air_db), "dB", "both ends"),
        Line("- pointing", number(terms.pointing_db), "dB", "both ends", "", pointing),
        Line("- obstruction", number(terms.obstruction_db), "dB", "both ends"),
        Line("- narrow beams", number(terms.narrow_beam_db), "dB", "-10 log10((1 - e^-x) / x): beams narrower than the lit Moon", GAUSSIAN),
        Line("- polarization", number(terms.polarization_db), "dB"),
        Line("- loss ahead of preamplifier", receiver.receiver.loss_before_preamplifier_db, "dB", "at the receiver", STATION_FILE,
             _equipment_assumed(receiver, band, "loss_before_preamplifier_db")),
        Line("- noise power", number(noise_power_dbw(temperature_k, REPORT_BANDWIDTH_HZ)), "dBW", "k T 2500 Hz"),
        Line("signal to noise", snr_db, "dB", "in 2500 Hz, the sum of the above", LINK_EQUATION),
    ]  # fmt: skip
    return lines


def _signal(band: str, sender: PairEnd, receiver: PairEnd, link: PairLink, at: str) -> Section:
    temperature = link.heard[at].now.total_k
    snr = _column(link, f"snr_at_{at}_db")
    lines = _budget_lines(sender, receiver, link.terms, temperature, snr, band)
    return Section(f"Signal of {sender.station.call} at {receiver.station.call}", tuple(lines))


def _echo(band: str, end: PairEnd, link: PairLink, name: str) -> Section:
    snr = _column(link, f"{name}_echo_snr_db")
    lines = _budget_lines(end, end, link.echo_terms[name], link.heard[name].now.total_k, snr, band)
    return Section(f"Own echo of {end.station.call}", tuple(lines))


def _margin(band: str, home: PairEnd, partner: PairEnd, link: PairLink, settled: bool) -> Section:
    mode = link.mode
    if mode is None:
        words = [f"{end.station.call} has {', '.join(end.equipment.modes)}" for end in (home, partner)]
        return Section("Mode and margin", (), f"The ends share no mode of the mode table: {'; '.join(words)}.")
    assumed = any(_equipment_assumed(end, band, "modes") for end in (home, partner))
    lines = [
        Line("mode", _mode_words(mode), "", "needs least at this spread, of those both have", MODE_TABLE, assumed),
        Line("needed", mode.needed_snr_db, "dB", "in 2500 Hz, half of the periods decode", MODE_TABLE, True),
        Line("loss by spread", number(spread_loss_db(link.half_power_width_hz, mode.tone_spacing_hz)), "dB",
             f"5 log10(1 + b / w), w = {mode.tone_spacing_hz:.3g} Hz", "rule of thumb"),
        *(
            Line(f"margin at {end.station.call}", _column(link, f"margin_at_{name}_db"), "dB",
                 "signal to noise - needed - loss by spread")
            for name, end in (("partner", partner), ("home", home))
        ),
    ]  # fmt: skip
    note = "" if settled else "Outside the windows the mode is chosen for this instant alone."
    return Section("Mode and margin", tuple(lines), note)


def _mode_words(mode: Mode) -> str:
    return f"{mode.mode}, {mode.period_s:g} s"


def _degradation(home: PairEnd, partner: PairEnd, link: PairLink) -> Section:
    worse = str(link.columns["worse_end"][0])
    end = home if worse == "home" else partner
    floor = number(link.heard[worse].best.total_k)
    words = {
        "distance": ("path loss against 356,400 km at both ends", "bistatic radar equation"),
        "air": ("its share of the noise's rise + loss both ways over the zeniths'", P676),
    }
    lines = [
        *(
            Line(f"{part} part", _column(link, f"degradation_{part}_db"), "dB",
                 *words.get(part, ("share of the noise's rise, by kelvins", "")))
            for part in DEGRADATION_PARTS
        ),
        Line("degradation", _column(link, "degradation_db"), "dB", "sum of the parts"),
        Line("worse end", end.station.call, "", "the end with the larger sum"),
    ]  # fmt: skip
    rise = 10.0 * np.log10(number(link.heard[worse].now.total_k) / floor)
    note = (
        f"Against the best case of this equipment: at {end.station.call} the noise stands {rise:.2f} dB above its "
        f"{floor:.1f} K."
    )
    return Section("Degradation", tuple(lines), note)
