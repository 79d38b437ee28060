"""What an experienced operator would raise an eyebrow at in a station file: pointed out, never refused.

From the file and the formulas of `link`; limits are common practice, no source, unless a line names one.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from pipeline.explain.exchanged import exchanged_on_band
from pipeline.explain.frequencies import frequency_oddities
from pipeline.explain.oddities import (
    BeamInsideMoon,
    BeyondUsual,
    GainAgainstBeamwidth,
    GainBelowBeamwidth,
    GroundGainUnused,
    HeightAgainstTerrain,
    LinearAmongCircular,
    ModesUnknown,
    MountNarrow,
    Odd,
    OddFigure,
    Oddity,
    PlaceFromLocator,
    PointingError,
    PowerBeyondBattery,
    PowerGreat,
    SkylineByTerrain,
    SkylineHigh,
)
from pipeline.explain.other_units import meant_for, point_for, unit_for
from pipeline.explain.slip_values import AzimuthsInTens, ZenithAngles
from pipeline.inputs.model import BandEquipment, Station
from pipeline.inputs.modes import BY_EAR, Mode
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
# Lowest frequency in MHz, and the gain in dBi below which hardly any antenna for the Moon stays from it on.
SELDOM_UNDER_DBI = ((8000.0, 28.0), (3000.0, 23.0), (1000.0, 18.0), (0.0, 8.0))
# The power at the feed in watts that stations for the Moon seldom stay below, above 1000 MHz and under it.
LEAST_W = (1.0, 10.0)
# From the frequency in MHz on, the dish in metres that is seldom exceeded.
LARGEST_DISH_M = ((4000.0, 8.0), (0.0, 12.0))
# Of what people build for the Moon, the least and the greatest, m.
USUAL_DISH_M = (0.6, 6.0)
# Of what a beam so wide could have, dishes have this much.
USUAL_SHARE = 0.7
# An antenna with a tenth of the gain that its beam would have is most likely written wrong.
LEAST_SHARE = 0.1
USUAL_EFFICIENCY = (0.35, 0.80)
SMALL_DISH_WAVELENGTHS = 5.0  # below it the formulas of dishes are stretched
USUAL_ERRORS_IN_BEAM = 5.0  # a fifth of the beamwidth costs under half a decibel
LIGHT_M_MHZ = 299.792458
FINE_LETTERS = 4  # two letters of a locator are a field of up to 2000 km
HIGH_SKYLINE_DEG = 30.0
# Who writes azimuths in tens of degrees is round at 36.
LEAST_ROUND, FIRST_TEN, LAST_TEN, TENS_ROUND = 4, 4.5, 27.0, 36.0
# A skyline that stands higher all round leaves no Moon: it is counted from the zenith.
LOWEST_FROM_ZENITH_DEG = 45.0
# Of the mounts that turn at all, hardly one turns less; its ends are more likely swapped.
LEAST_TURN_DEG = 90.0
# The Moon is never farther from the equator; beyond this latitude it stands highest towards the equator.
TROPICS_DEG, AROUND_DEG = 29.0, 30.0
DEEP_SKYLINE_DEG = -3.0
# Elevation models err by some metres, by tens on a steep summit.
FAR_FROM_GROUND_M = 50.0
DECODER_SEARCH_HZ = 200.0
SHARED_PASSBAND_HZ = 1250.0  # half of a voice channel: beyond it the signal falls outside what is heard at all
AMPLIFIER_EFFICIENCY = 0.6


def oddities(station: Station, band: str, frequency_mhz: float, modes: Sequence[Mode] = ()) -> tuple[Oddity, ...]:
    """None where nothing is odd; `modes` is the mode table, to name modes it does not know."""
    equipment, exchanged = station.bands[band], exchanged_on_band(station, band)
    told = {key.removeprefix(f"bands.{band}.") for one in exchanged for key in (one.key, one.other_key)}
    return (
        *exchanged,
        *(() if told & {"antenna.dish_diameter_m", "antenna.gain_dbi"} else _antenna(station, band, frequency_mhz)),
        *(() if "power_w" in told else _power(station, equipment, frequency_mhz)),
        *(() if "noise_figure_db" in told else _receiver(equipment, band, frequency_mhz)),
        *_operating(equipment, frequency_mhz, modes),
        *frequency_oddities(equipment.frequency_mhz, band, f"bands.{band}.frequency_mhz"),
        *_site(station),
    )


def _antenna(station: Station, band: str, frequency_mhz: float) -> Iterator[Oddity]:
    equipment, beam = station.bands[band], beam_of(station, band, frequency_mhz)
    low, high = USUAL_EFFICIENCY
    dish, efficiency = equipment.antenna.dish_diameter_m, equipment.antenna.aperture_efficiency
    if dish is not None and efficiency > high:
        yield OddFigure(Odd.EFFICIENCY_HIGH, efficiency)
    if dish is not None and efficiency < low:
        yield OddFigure(Odd.EFFICIENCY_LOW, efficiency)
    if dish is not None and beam.diameter_in_wavelengths < SMALL_DISH_WAVELENGTHS:
        yield OddFigure(Odd.DISH_SMALL, beam.diameter_in_wavelengths)
    share = antenna.GAUSSIAN_SOLID_ANGLE * math.radians(beam.beamwidth_deg) ** 2
    share *= 10.0 ** (beam.gain_dbi / 10.0) / (4.0 * math.pi)
    largest = next(most for lowest, most in LARGEST_DISH_M if frequency_mhz >= lowest)
    if dish is not None and dish > largest:
        # What follows of such a dish is the same slip again.
        yield OddFigure(Odd.DISH_LARGE, dish, *meant_for("dish_diameter_m", dish, *USUAL_DISH_M))
        return
    if share > 1.0 and (dish is None or efficiency <= high):
        most, usual = beam.gain_dbi - 10.0 * math.log10(share), _beamwidth_meant(beam.gain_dbi, beam.beamwidth_deg)
        yield GainAgainstBeamwidth(beam.gain_dbi, beam.beamwidth_deg, most, usual)
    elif equipment.antenna.beamwidth_deg is not None and share < LEAST_SHARE:
        most = beam.gain_dbi - 10.0 * math.log10(share)
        yield GainBelowBeamwidth(beam.gain_dbi, beam.beamwidth_deg, most)
    wide = 10.0 ** (beam.gain_dbi / 20.0) / (math.pi * math.sqrt(0.55)) * LIGHT_M_MHZ / frequency_mhz
    if dish is None and wide > LARGEST_DISH_M[-1][1]:
        yield BeyondUsual(Odd.GAIN_LARGE, beam.gain_dbi, wide)
    least = next(least for lowest, least in SELDOM_UNDER_DBI if frequency_mhz >= lowest)
    if beam.gain_dbi < least:
        yield BeyondUsual(Odd.GAIN_SMALL, beam.gain_dbi, least)
    if not beam.array and beam.beamwidth_deg < FARTHEST_DISC_DEG:
        loss = antenna.narrow_beam_loss_db(
            FARTHEST_DISC_DEG, beam.beamwidth_deg, beam.beamwidth_deg, half_power_share(frequency_mhz)
        )
        yield BeamInsideMoon(beam.beamwidth_deg, float(loss))
    # What nobody stated is told as assumed, and is nobody's slip.
    if f"bands.{band}.pointing_error_deg" not in station.assumed:
        yield from _pointing(equipment.pointing_error_deg, beam.beamwidth_deg)


def _beamwidth_meant(gain_dbi: float, beamwidth_deg: float) -> float:
    """The width that goes with a gain: the file's figures with the point elsewhere where that comes near, deg."""
    usual = math.degrees(
        math.sqrt(USUAL_SHARE * 4.0 * math.pi / antenna.GAUSSIAN_SOLID_ANGLE / 10.0 ** (gain_dbi / 10.0))
    )
    moved = (beamwidth_deg / 10.0, beamwidth_deg / 100.0)
    return next((one for one in moved if 0.75 < one / usual < 1.33), float(f"{usual:.2g}"))


def _pointing(error_deg: float, beamwidth_deg: float) -> Iterator[Oddity]:
    loss = float(antenna.pointing_loss_db(error_deg, beamwidth_deg))
    usual = beamwidth_deg / USUAL_ERRORS_IN_BEAM
    if error_deg >= beamwidth_deg:
        meant = point_for(error_deg, usual / 10.0, 1.5 * usual)
        yield PointingError(Odd.POINTING_BEYOND_BEAM, error_deg, beamwidth_deg, loss, usual, meant)
    elif loss > 1.0:
        yield PointingError(Odd.POINTING_COSTS, error_deg, beamwidth_deg, loss, usual)
    if error_deg == 0.0:
        yield Oddity(Odd.POINTING_NEVER_ERRS)


def _power(station: Station, equipment: BandEquipment, frequency_mhz: float) -> Iterator[Oddity]:
    seldom = next(watts for limit, watts in SELDOM_ABOVE_W if frequency_mhz <= limit)
    if equipment.power_w > seldom:
        yield PowerGreat(equipment.power_w, frequency_mhz, seldom)
    least = LEAST_W[0] if frequency_mhz > 1000.0 else LEAST_W[1]
    if equipment.power_w < least:
        unit, meant = unit_for("power_w", equipment.power_w, least, seldom) or ("", None)
        yield BeyondUsual(Odd.POWER_SMALL, equipment.power_w, least, unit, meant)
    battery = station.battery
    if battery is not None and battery.transmit_a > 0.0 and battery.transmit_a >= battery.receive_a:
        drawn = battery.voltage_v * battery.transmit_a
        if equipment.power_w > AMPLIFIER_EFFICIENCY * drawn:
            yield PowerBeyondBattery(equipment.power_w, drawn)


def _receiver(equipment: BandEquipment, band: str, frequency_mhz: float) -> Iterator[Oddity]:
    figure = equipment.noise_figure_db
    least = next(hardly_beaten for limit, hardly_beaten in SELDOM_BELOW_DB if frequency_mhz <= limit)
    if figure == 0.0:
        yield BeyondUsual(Odd.RECEIVER_NOISELESS, figure, least)
    elif figure < least:
        yield BeyondUsual(Odd.NOISE_FIGURE_LOW, figure, least)
    elif figure > 3.0 and frequency_mhz > 300.0:
        yield OddFigure(Odd.NOISE_FIGURE_HIGH, figure, "", point_for(figure, least, 3.0))
    if equipment.loss_before_preamplifier_db > 1.0:
        yield OddFigure(Odd.LOSS_AHEAD_HIGH, equipment.loss_before_preamplifier_db)
    if equipment.spillover_fraction == 0.0:
        yield Oddity(Odd.SPILLOVER_NONE)
    elif equipment.spillover_fraction > 0.3:
        yield OddFigure(Odd.SPILLOVER_HIGH, equipment.spillover_fraction)
    if equipment.ground_gain_db > 0.0 and band not in GROUND_GAIN_BANDS:
        yield GroundGainUnused(equipment.ground_gain_db, tuple(GROUND_GAIN_BANDS))


def _operating(equipment: BandEquipment, frequency_mhz: float, modes: Sequence[Mode]) -> Iterator[Oddity]:
    accuracy = equipment.frequency_accuracy_hz
    if accuracy > SHARED_PASSBAND_HZ:
        yield BeyondUsual(Odd.OUTSIDE_PASSBAND, accuracy, SHARED_PASSBAND_HZ)
    elif accuracy > DECODER_SEARCH_HZ and not set(equipment.modes) <= set(BY_EAR):
        yield BeyondUsual(Odd.OUTSIDE_DECODER_SEARCH, accuracy, DECODER_SEARCH_HZ)
    known = {entry.mode for entry in modes}
    unknown = tuple(mode for mode in equipment.modes if mode not in known)
    if known and unknown:
        yield ModesUnknown(unknown)
    if equipment.polarization == "circular" and frequency_mhz > 8000.0:
        yield Oddity(Odd.CIRCULAR_AMONG_LINEAR)
    if equipment.polarization in ("horizontal", "vertical") and 1000.0 < frequency_mhz < 2000.0:
        yield LinearAmongCircular(equipment.polarization)


def _site(station: Station) -> Iterator[Oddity]:
    high = tuple(point for point in station.horizon if point.elevation_deg > HIGH_SKYLINE_DEG)
    is_from_zenith = all(one.elevation_deg > LOWEST_FROM_ZENITH_DEG for one in station.horizon)
    if is_from_zenith and station.terrain is None and len(high) > 1:
        yield ZenithAngles("horizon", station.horizon)
    elif high:
        # Terrain has a point every degree: its highest speaks for all.
        told = high if station.terrain is None else (max(high, key=lambda point: point.elevation_deg),)
        each = [point.elevation_deg for point in station.horizon]
        are_tenths = station.terrain is None and len(each) > 1 and min(each) >= 5.0 and all(map(float.is_integer, each))
        yield SkylineHigh(told, HIGH_SKYLINE_DEG, station.horizon if are_tenths else ())
    azimuths = tuple(sorted(point.azimuth_deg for point in station.horizon))
    if len(azimuths) >= LEAST_ROUND and azimuths[0] <= FIRST_TEN and LAST_TEN <= azimuths[-1] <= TENS_ROUND:
        yield AzimuthsInTens(azimuths)
    lowest = min((point.elevation_deg for point in station.horizon), default=0.0)
    if lowest < DEEP_SKYLINE_DEG:
        yield OddFigure(Odd.SKYLINE_DEEP, lowest)
    if station.minimum_elevation_deg > LOWEST_FROM_ZENITH_DEG:
        if station.mount.maximum_elevation_deg > HIGH_SKYLINE_DEG:  # else the two are exchanged
            yield ZenithAngles("minimum_elevation_deg", (), station.minimum_elevation_deg)
    elif station.minimum_elevation_deg > HIGH_SKYLINE_DEG:
        lost_point = station.minimum_elevation_deg / 10.0
        yield OddFigure(Odd.MINIMUM_ELEVATION_HIGH, station.minimum_elevation_deg, meant=lost_point)
    if station.mount.maximum_elevation_deg < HIGH_SKYLINE_DEG:
        yield OddFigure(Odd.MOUNT_LOW, station.mount.maximum_elevation_deg)
    first, last = station.mount.azimuth_from_deg, station.mount.azimuth_to_deg
    if first is not None and last is not None and is_turned_away(first, last, station.position.latitude_deg):
        yield MountNarrow(first, last, (last - first) % 360.0)
    if station.position.locator is not None:
        is_coarse = len(station.position.locator) < FINE_LETTERS
        kind = Odd.LOCATOR_COARSE if is_coarse else Odd.PLACE_FROM_LOCATOR
        yield PlaceFromLocator(kind, station.position.locator, station.position.uncertainty_km)
    if station.terrain is not None:
        yield SkylineByTerrain(station.terrain)
        if abs(station.position.height_m - station.terrain.ground_m) > FAR_FROM_GROUND_M:
            yield HeightAgainstTerrain(station.position.height_m, station.terrain.ground_m)


def is_turned_away(from_deg: float, to_deg: float, latitude_deg: float) -> bool:
    """Whether a mount hardly turns, or leaves out where the Moon stands highest while the other way round holds it."""
    width = (to_deg - from_deg) % 360.0
    highest = 180.0 if latitude_deg > 0.0 else 0.0
    is_outside = 0.0 < width < (highest - from_deg) % 360.0
    nearest = min((from_deg - highest) % 360.0, (highest - to_deg) % 360.0)
    return 0.0 < width < LEAST_TURN_DEG or (abs(latitude_deg) > TROPICS_DEG and is_outside and nearest > AROUND_DEG)
