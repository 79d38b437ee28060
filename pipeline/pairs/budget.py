"""The whole link of every pair at every sample: Doppler, spread, polarization, signal both ways, best mode's margin.

From both ends of each pair; the stage between windows and nights. Nothing here is a formula of its own: those stand in
`link` and `radio_sky`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.ephemeris.sky import Sky
from pipeline.ephemeris.tracks import Sites
from pipeline.inputs.model import Station
from pipeline.inputs.modes import Mode
from pipeline.link import antenna
from pipeline.link.doppler import echo_paths
from pipeline.link.path_loss import moon_disc_deg, path_loss_db
from pipeline.link.polarization import (
    PolarizationLoss,
    polarization_loss,
    polarization_offset_deg,
)
from pipeline.link.signal import PathTerms, snr_db, spread_loss_db
from pipeline.link.spread import half_power_share, limb_to_limb_hz
from pipeline.pairs.corrections import receive_db, transmit_db
from pipeline.pairs.ends import Pair, PairEnd, make_pair, make_pair_end
from pipeline.pairs.equipment import activity_of
from pipeline.pairs.feed_advice import polarization_advice
from pipeline.pairs.mode_choice import pair_mode
from pipeline.pairs.reception import Columns, Hearing, hear, reception_columns
from pipeline.record.inputs import Inputs
from pipeline.windows.scene import Scene

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

# Ground gain lives on the flat foreground's reflection, below this elevation, on the two bands where it is real.
GROUND_GAIN_BANDS = ("2m", "70cm")
GROUND_GAIN_BELOW_DEG = 10.0


def pair_modes(inputs: Inputs) -> tuple[Mode | None, ...]:
    """The mode of home with each partner."""
    return tuple(pair_mode(inputs, *who) for who in _others(inputs))


def _others(inputs: Inputs) -> tuple[tuple[Station, str], ...]:
    """Who is worked on which band; without any partner home stands in for one at no instant at all."""
    return tuple(zip(inputs.partners, inputs.bands, strict=True)) or ((inputs.home, inputs.season.band),)


# Of the link what hours, chances, the worth of nights and the weather's share ask.
CHANCE_COLUMNS = (
    "degradation_db", "doppler_spread_hz", "margin_at_partner_db", "margin_at_home_db",
    "home_system_temperature_k", "partner_system_temperature_k",
)  # fmt: skip


def link_columns(
    inputs: Inputs, scene: Scene, modes: Sequence[Mode | None], shifts: bool = True, figures: bool = True
) -> Columns:
    """The link of every sample, pair by pair; columns in the order of the samples. `modes` are those of `pair_modes`.

    Every column is there, also where there is no partner; without `shifts` all but delay and Doppler shifts, without
    `figures` only `CHANCE_COLUMNS`.
    """
    stations, first = _others(inputs), 1 if inputs.partners else 0
    steps, sites = scene.steps, scene.standpoints.sites
    order = [np.flatnonzero(steps.pair == index) for index in range(len(stations))]
    pairs, heard = [], []
    homes = _homes(inputs, scene, [band for _, band in stations])
    for index, ((_, band), rows) in enumerate(zip(stations, order, strict=True)):
        end, hears, place = homes[band]
        pairs.append(make_pair(inputs, first + index, band, scene.take(rows), end.take(place[rows])))
        heard.append(hears.take(place[rows]))
    transmit = np.array([[pair.home.transmit_mhz, pair.partner.transmit_mhz] for pair in pairs])[steps.pair]
    both_sites = sites.take(np.zeros_like(steps.pair)), sites.take(steps.pair + 1)
    # Light times are the same arithmetic for all pairs: in one go they cost half.
    if shifts:
        doppler = doppler_columns(scene.sky, *both_sites, steps.time_s, transmit[:, 0], transmit[:, 1])
    else:
        home, partner = sites.take(0), both_sites[1]
        doppler = {"doppler_spread_hz": limb_to_limb_hz(scene.sky, home, partner, steps.time_s, transmit[:, 0])}
    links = [
        work_out_pair(pair, mode, {name: column[rows] for name, column in doppler.items()}, home_heard=mine)
        for pair, mode, rows, mine in zip(pairs, modes, order, heard, strict=True)
    ]
    place = np.argsort(np.concatenate(order), kind="stable")
    names = links[0].columns if figures else CHANCE_COLUMNS
    return {name: np.concatenate([link.columns[name] for link in links])[place] for name in names}


def _homes(inputs: Inputs, scene: Scene, bands: Sequence[str]) -> dict[str, tuple[PairEnd, Hearing, IntArray]]:
    """Home by band at each instant once, what it hears, and which of the instants each step (n,) of the band is.

    `bands` are those of the pairs, which share most of their instants.
    """
    found = {}
    for band in dict.fromkeys(bands):
        rows = np.flatnonzero(np.array([one == band for one in bands])[scene.steps.pair])
        # At a turn of the month windows of one instant may go by different airs.
        instants = scene.steps.time_s[rows] + 1j * scene.months[rows]
        place = np.zeros(scene.steps.time_s.size, dtype=np.int64)
        _, once, place[rows] = np.unique(instants, return_index=True, return_inverse=True)
        once = rows[once]
        end = make_pair_end(inputs, band, scene.standpoints, 0, scene.home.take(once), scene.months[once])
        found[band] = end, hear(end, scene.centre.elongation_deg[once], activity_of(inputs.season.policy)), place
    return found


def doppler_of(sky: Sky, pair: Pair) -> Columns:
    """`doppler_columns` of one pair at its own steps."""
    home, partner = pair.home, pair.partner
    return doppler_columns(sky, home.sites, partner.sites, pair.steps.time_s, home.transmit_mhz, partner.transmit_mhz)


@dataclass(frozen=True)
class PairLink:
    """A pair's link at its samples with the terms behind the columns; dictionaries are by the receiving end."""

    columns: Columns
    mode: Mode | None
    heard: dict[str, Hearing]
    terms: dict[str, PathTerms]
    echo_terms: dict[str, PathTerms]
    polarization: PolarizationLoss
    half_power_width_hz: FloatArray


def work_out_pair(
    pair: Pair,
    mode: Mode | None,
    doppler: Columns,
    home_heard: Hearing | None = None,
) -> PairLink:
    """One pair at its samples (n,), a feed turned where that loses less.

    `doppler` are the columns of `doppler_columns` at these samples, `home_heard` what home hears, where it is known.
    """
    home, partner, band = pair.home, pair.partner, pair.band
    ends = {"home": home, "partner": partner}
    heard = {
        "home": home_heard or hear(home, pair.elongation_deg, pair.solar_activity),
        "partner": hear(partner, pair.elongation_deg, pair.solar_activity),
    }
    columns = reception_columns(home, partner, heard)
    for name, end in ends.items():
        columns[f"{name}_skyline_loss_db"] = skyline_loss_db(end, heard[name])
    columns |= doppler
    polarization = _polarization_of(pair)
    turned = polarization.turned_is_better()
    columns["polarization_offset_deg"] = polarization.offset_deg
    columns["polarization_loss_db"] = polarization.for_signal_db(turned)
    columns["polarization_loss_other_db"] = polarization.for_signal_db(~turned)
    columns["feed_turned"] = turned
    columns["polarization_advice"] = polarization_advice(polarization, turned)
    loss = columns["polarization_loss_db"].astype(float)
    # Loss and gains at the pair's frequency both ways, so that they stay consistent; Doppler keeps each sender's own.
    terms = {"partner": path_terms(home, partner, loss, band), "home": path_terms(partner, home, loss, band)}
    columns["path_loss_db"] = np.asarray(terms["partner"].path_loss_db)
    columns["snr_at_partner_db"] = signal(home, partner, terms["partner"], heard["partner"].now.total_k)
    columns["snr_at_home_db"] = signal(partner, home, terms["home"], heard["home"].now.total_k)
    echo_terms = {}
    for name, end in ends.items():
        # Below 1.5 GHz the ionosphere turns a station's own linear echo as well.
        feed = end.equipment.polarization
        echo_loss = polarization_loss(np.zeros(pair.steps.time_s.size), feed, feed, end.frequency_mhz).for_signal_db()
        echo_terms[name] = path_terms(end, end, echo_loss, band)
        columns[f"{name}_echo_snr_db"] = signal(end, end, echo_terms[name], heard[name].now.total_k)
    width = columns["doppler_spread_hz"].astype(float) * half_power_share(home.frequency_mhz)
    nothing = np.full(pair.steps.time_s.size, np.nan)
    columns["spread_loss_db"] = nothing if mode is None else spread_loss_db(width, mode.tone_spacing_hz)
    for name in ("partner", "home"):
        left = columns[f"snr_at_{name}_db"].astype(float) - columns["spread_loss_db"].astype(float)
        columns[f"margin_at_{name}_db"] = nothing if mode is None else left - mode.needed_snr_db
    return PairLink(columns, mode, heard, terms, echo_terms, polarization, width)


def skyline_loss_db(end: PairEnd, heard: Hearing) -> FloatArray:
    """What the skyline costs an end that listens, dB, (n,): the wave that it cuts off and the ground in the pattern."""
    return antenna.obstruction_loss_db(end.clearance_deg, end.receiver.beam.beamwidth_deg) + heard.skyline_noise_db


def doppler_columns(
    sky: Sky,
    home: Sites,
    partner: Sites,
    time_s: FloatArray,
    home_mhz: float | FloatArray,
    partner_mhz: float | FloatArray,
) -> Columns:
    """Shifts of the four paths, each at its sender's frequency; delay, rate and spread of home to partner; all (n,)."""
    there, partner_echo = echo_paths(sky, [home, partner], partner, time_s)
    back, home_echo = echo_paths(sky, [partner, home], home, time_s)
    return {
        "echo_delay_s": there.delay_s,
        "doppler_home_to_partner_hz": there.shift_hz(home_mhz),
        "doppler_partner_to_home_hz": back.shift_hz(partner_mhz),
        "doppler_rate_hz_per_s": there.shift_rate_hz_per_s(home_mhz),
        "doppler_spread_hz": limb_to_limb_hz(sky, home, partner, time_s, home_mhz),
        "home_echo_doppler_hz": home_echo.shift_hz(home_mhz),
        "partner_echo_doppler_hz": partner_echo.shift_hz(partner_mhz),
    }


def _polarization_of(pair: Pair) -> PolarizationLoss:
    """The pair's polarization at each sample, (n,)."""
    home, partner = pair.home, pair.partner
    return polarization_loss(
        polarization_offset_deg(home.look, partner.look),
        home.equipment.polarization,
        partner.equipment.polarization,
        home.frequency_mhz,
    )


def path_terms(sender: PairEnd, receiver: PairEnd, polarization_db: FloatArray, band: str) -> PathTerms:
    """Gains and losses of the path between two ends (the same end twice for its own echo), dB, (n,)."""
    ends = (sender, receiver)
    beams = [end.receiver.beam for end in ends]
    share = half_power_share(receiver.frequency_mhz)
    return PathTerms(
        path_loss_db=path_loss_db(sender.seen.moon.range_km, receiver.seen.moon.range_km, receiver.frequency_mhz),
        gains_dbi=beams[0].gain_dbi + beams[1].gain_dbi,
        air_db=sender.air_db + receiver.air_db,
        pointing_db=sum(
            antenna.pointing_loss_db(end.equipment.pointing_error_deg, end.receiver.beam.beamwidth_deg) for end in ends
        ),
        obstruction_db=sum(
            antenna.obstruction_loss_db(end.clearance_deg, end.receiver.beam.beamwidth_deg) for end in ends
        ),
        narrow_beam_db=antenna.narrow_beam_loss_db(
            moon_disc_deg(receiver.seen.moon.range_km), beams[0].beamwidth_deg, beams[1].beamwidth_deg, share
        ),
        polarization_db=polarization_db,
        ground_gain_db=sum(_ground_gain_db(end, band) for end in ends),
        correction_db=transmit_db(sender.correction) + receive_db(receiver.correction),
    )


def _ground_gain_db(end: PairEnd, band: str) -> FloatArray:
    low = end.seen.apparent_elevation_deg < GROUND_GAIN_BELOW_DEG
    return np.where(low & (band in GROUND_GAIN_BANDS), end.equipment.ground_gain_db, 0.0)


def signal(sender: PairEnd, receiver: PairEnd, terms: PathTerms, system_temperature_k: FloatArray) -> FloatArray:
    """Signal-to-noise ratio in 2500 Hz of the sender at the receiver, dB, (n,)."""
    return snr_db(sender.equipment.power_w, terms, receiver.receiver.loss_before_preamplifier_db, system_temperature_k)
