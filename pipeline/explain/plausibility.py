"""What an experienced operator would raise an eyebrow at in a station file: pointed out in a sentence, never refused.

Limits are common practice, no source, unless a line names one; every sentence says what would be usual.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from pipeline.inputs.model import BandEquipment, Station
from pipeline.inputs.modes import Mode
from pipeline.link import antenna
from pipeline.link.constants import FARTHEST_DISC_DEG
from pipeline.link.spread import half_power_share
from pipeline.pairs.budget import GROUND_GAIN_BANDS
from pipeline.pairs.equipment import beam_of

# Highest frequency in MHz, and the power that is seldom exceeded at a feed up to it.
SELDOM_ABOVE_W = ((1000.0, 2500.0), (2000.0, 1500.0), (4000.0, 700.0), (6000.0, 500.0), (12_000.0, 400.0),
                  (30_000.0, 120.0), (math.inf, 60.0))  # fmt: skip
# Highest frequency in MHz, and the noise figure in dB that hardly any preamplifier beats up to it.
SELDOM_BELOW_DB = ((2000.0, 0.1), (6000.0, 0.25), (12_000.0, 0.5), (30_000.0, 1.0), (math.inf, 1.8))
USUAL_EFFICIENCY = (0.35, 0.80)
HIGH_SKYLINE_DEG = 30.0
DECODER_SEARCH_HZ = 200.0
SHARED_PASSBAND_HZ = 1250.0  # half of a voice channel: beyond it the signal falls outside what is heard at all
AMPLIFIER_EFFICIENCY = 0.6
HEARD_BY_EAR = {"CW", "SSB", "FM", "AM"}


def oddities(station: Station, band: str, frequency_mhz: float, modes: Sequence[Mode] = ()) -> tuple[str, ...]:
    """Sentences, none where nothing is odd; `modes` is the mode table, to name modes it does not know."""
    equipment = station.bands[band]
    return (
        *_antenna(station, band, frequency_mhz),
        *_power(station, equipment, frequency_mhz),
        *_receiver(equipment, band, frequency_mhz),
        *_operating(equipment, frequency_mhz, modes),
        *_site(station),
    )


def _antenna(station: Station, band: str, frequency_mhz: float) -> Iterator[str]:
    equipment, beam = station.bands[band], beam_of(station, band, frequency_mhz)
    low, high = USUAL_EFFICIENCY
    dish, efficiency = equipment.antenna.dish_diameter_m, equipment.antenna.aperture_efficiency
    if dish is not None and efficiency > high:
        yield f"aperture_efficiency {efficiency:g} is more than dishes reach; 0.5 to 0.7 is usual."
    if dish is not None and efficiency < low:
        yield f"aperture_efficiency {efficiency:g} is low; 0.5 to 0.7 is usual for a dish lit as it should be."
    if dish is not None and beam.diameter_in_wavelengths < 5.0:
        yield (
            f"a dish of {beam.diameter_in_wavelengths:.1f} wavelengths is small for the formulas of dishes; "
            "a measured gain_dbi would be surer."
        )
    share = antenna.GAUSSIAN_SOLID_ANGLE * math.radians(beam.beamwidth_deg) ** 2
    share *= 10.0 ** (beam.gain_dbi / 10.0) / (4.0 * math.pi)
    if share > 1.0:
        most = beam.gain_dbi - 10.0 * math.log10(share)
        yield (
            f"a gain of {beam.gain_dbi:.1f} dBi and a beamwidth of {beam.beamwidth_deg:.2g} degrees cannot both be; "
            f"a beam so wide has {most:.1f} dBi at most."
        )
    if not beam.array and beam.beamwidth_deg < FARTHEST_DISC_DEG:
        loss = float(
            antenna.narrow_beam_loss_db(
                FARTHEST_DISC_DEG, beam.beamwidth_deg, beam.beamwidth_deg, half_power_share(frequency_mhz)
            )
        )
        yield (
            f"the beam of {beam.beamwidth_deg:.2f} degrees is narrower than the Moon: own echoes lose {loss:.1f} dB, "
            "and the beam can be on the Moon and miss its middle."
        )
    yield from _pointing(equipment.pointing_error_deg, beam.beamwidth_deg)


def _pointing(error_deg: float, beamwidth_deg: float) -> Iterator[str]:
    loss = float(antenna.pointing_loss_db(error_deg, beamwidth_deg))
    if error_deg >= beamwidth_deg:
        yield (
            f"pointing_error_deg {error_deg:g} is no less than the beamwidth of {beamwidth_deg:.2g} degrees; "
            f"under {beamwidth_deg / 5:.2g} would keep the loss under half a decibel."
        )
    elif loss > 1.0:
        yield (
            f"pointing_error_deg {error_deg:g} costs {loss:.1f} dB each way in a beam of {beamwidth_deg:.2g} degrees; "
            f"under {beamwidth_deg / 5:.2g} is usual."
        )
    if error_deg == 0.0:
        yield "pointing_error_deg 0 is a dish that never errs; a fifth of the beamwidth or less is usual."


def _power(station: Station, equipment: BandEquipment, frequency_mhz: float) -> Iterator[str]:
    seldom = next(watts for limit, watts in SELDOM_ABOVE_W if frequency_mhz <= limit)
    if equipment.power_w > seldom:
        yield (
            f"power_w {equipment.power_w:g} is a great deal at {frequency_mhz:,.0f} MHz; "
            f"at the feed, {seldom:g} W is seldom exceeded there."
        )
    battery = station.battery
    if battery is not None and battery.transmit_a > 0.0:
        drawn = battery.voltage_v * battery.transmit_a
        if equipment.power_w > AMPLIFIER_EFFICIENCY * drawn:
            yield (
                f"power_w {equipment.power_w:g} from {drawn:.0f} W off the battery would be an efficiency of "
                f"{equipment.power_w / drawn * 100:.0f} %; 15 to 50 % is usual, so transmit_a may be short."
            )


def _receiver(equipment: BandEquipment, band: str, frequency_mhz: float) -> Iterator[str]:
    least = next(figure for limit, figure in SELDOM_BELOW_DB if frequency_mhz <= limit)
    if equipment.noise_figure_db == 0.0:
        yield f"noise_figure_db 0 is a receiver without noise; {least:g} dB is hardly beaten at this frequency."
    elif equipment.noise_figure_db < least:
        figure = equipment.noise_figure_db
        yield f"noise_figure_db {figure:g} is very low; {least:g} dB is hardly beaten at this frequency."
    elif equipment.noise_figure_db > 3.0 and frequency_mhz > 300.0:
        figure = equipment.noise_figure_db
        yield f"noise_figure_db {figure:g} is high for this band; is a preamplifier at the feed meant?"
    if equipment.loss_before_preamplifier_db > 1.0:
        yield (
            f"loss_before_preamplifier_db {equipment.loss_before_preamplifier_db:g} costs signal and adds noise; "
            "with the preamplifier at the feed 0.1 to 0.3 is usual."
        )
    if equipment.spillover_fraction == 0.0:
        yield "spillover_fraction 0 is an antenna that sees no ground at all; 0.03 to 0.15 is usual."
    elif equipment.spillover_fraction > 0.3:
        yield f"spillover_fraction {equipment.spillover_fraction:g} sees much warm ground; 0.03 to 0.15 is usual."
    if equipment.ground_gain_db > 0.0 and band not in GROUND_GAIN_BANDS:
        bands = " and ".join(GROUND_GAIN_BANDS)
        yield f"ground_gain_db {equipment.ground_gain_db:g} is not used on this band, only on {bands}."


def _operating(equipment: BandEquipment, frequency_mhz: float, modes: Sequence[Mode]) -> Iterator[str]:
    accuracy = equipment.frequency_accuracy_hz
    if accuracy > SHARED_PASSBAND_HZ:
        yield (
            f"frequency_accuracy_hz {accuracy:g} may leave the signal outside the receiver's passband; the partner has "
            "to search, so agree a beacon or a reference."
        )
    elif accuracy > DECODER_SEARCH_HZ and not set(equipment.modes) <= HEARD_BY_EAR:
        yield (
            f"frequency_accuracy_hz {accuracy:g} is wider than decoders usually search, some {DECODER_SEARCH_HZ:g} Hz "
            "to either side; tell the partner, or lock to a reference."
        )
    if modes:
        unknown = [mode for mode in equipment.modes if mode not in {entry.mode for entry in modes}]
        if unknown:
            verb = "has" if len(unknown) == 1 else "have"
            yield f"{', '.join(unknown)} {verb} no line in the mode table, so no margin is worked out for it."
    if equipment.polarization == "circular" and frequency_mhz > 8000.0:
        yield "polarization circular loses 3 dB with linear stations, which are the most at this frequency."
    if equipment.polarization in ("horizontal", "vertical") and 1000.0 < frequency_mhz < 2000.0:
        yield (
            f"polarization {equipment.polarization} loses 3 dB with circular stations, which are the most at this "
            "frequency."
        )


def _site(station: Station) -> Iterator[str]:
    high = [point for point in station.horizon if point.elevation_deg > HIGH_SKYLINE_DEG]
    if high:
        where = ", ".join(f"{point.elevation_deg:g} at azimuth {point.azimuth_deg:g}" for point in high)
        yield f"horizon points above {HIGH_SKYLINE_DEG:g} degrees: {where}; are azimuth and elevation in their places?"
    low = [point for point in station.horizon if point.elevation_deg < -3.0]
    if low:
        least = min(point.elevation_deg for point in low)
        yield f"the horizon falls to {least:g} degrees: only a steep mountain looks so far down."
    if station.minimum_elevation_deg > HIGH_SKYLINE_DEG:
        minimum = station.minimum_elevation_deg
        yield f"minimum_elevation_deg {minimum:g} gives away most of each Moon pass; 0 to 10 is usual."
    if station.mount.maximum_elevation_deg < HIGH_SKYLINE_DEG:
        maximum = station.mount.maximum_elevation_deg
        yield f"maximum_elevation_deg {maximum:g} is a mount that only looks low; 85 or 90 is usual."
    if station.position.locator is not None:
        place = station.position
        yield (
            f"the place comes from locator {place.locator}, good to {place.uncertainty_km:.0f} km; "
            "for landmarks and for a dish's alignment coordinates are needed."
        )
