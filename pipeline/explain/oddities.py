"""What is odd in a station file, as values: the kind, the figure of the file and what would be usual.

An oddity without figures is a plain `Oddity`; each other has its own class. Sentences are made of these in `wording`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import Enum, auto

from pipeline.inputs.model import HorizonPoint


class Odd(Enum):
    """What an experienced operator would raise an eyebrow at."""

    EFFICIENCY_HIGH = auto()
    EFFICIENCY_LOW = auto()
    DISH_SMALL = auto()
    GAIN_AGAINST_BEAMWIDTH = auto()
    BEAM_INSIDE_MOON = auto()
    POINTING_BEYOND_BEAM = auto()
    POINTING_COSTS = auto()
    POINTING_NEVER_ERRS = auto()
    POWER_GREAT = auto()
    POWER_BEYOND_BATTERY = auto()
    RECEIVER_NOISELESS = auto()
    NOISE_FIGURE_LOW = auto()
    NOISE_FIGURE_HIGH = auto()
    LOSS_AHEAD_HIGH = auto()
    SPILLOVER_NONE = auto()
    SPILLOVER_HIGH = auto()
    GROUND_GAIN_UNUSED = auto()
    OUTSIDE_PASSBAND = auto()
    OUTSIDE_DECODER_SEARCH = auto()
    MODES_UNKNOWN = auto()
    CIRCULAR_AMONG_LINEAR = auto()
    LINEAR_AMONG_CIRCULAR = auto()
    SKYLINE_HIGH = auto()
    SKYLINE_DEEP = auto()
    MINIMUM_ELEVATION_HIGH = auto()
    MOUNT_LOW = auto()
    PLACE_FROM_LOCATOR = auto()


@dataclass(frozen=True)
class Oddity:
    """Something odd in a station file."""

    kind: Odd


@dataclass(frozen=True)
class OddFigure(Oddity):
    """One figure of the file, in the unit of its key, that is odd by itself."""

    value: float


@dataclass(frozen=True)
class BeyondUsual(Oddity):
    """One figure of the file, and the limit in the same unit that it is past."""

    value: float
    limit: float


# Antenna


@dataclass(frozen=True)
class GainAgainstBeamwidth(Oddity):
    """A gain that no beam so wide can have, and the most that it could have."""

    kind: Odd = field(default=Odd.GAIN_AGAINST_BEAMWIDTH, init=False)
    gain_dbi: float
    beamwidth_deg: float
    most_dbi: float


@dataclass(frozen=True)
class BeamInsideMoon(Oddity):
    """A beam narrower than the Moon, and what own echoes lose by it."""

    kind: Odd = field(default=Odd.BEAM_INSIDE_MOON, init=False)
    beamwidth_deg: float
    echo_loss_db: float


@dataclass(frozen=True)
class PointingError(Oddity):
    """An error that is large for the beam, its loss each way, and the error up to which the loss is usual."""

    error_deg: float
    beamwidth_deg: float
    loss_db: float
    usual_deg: float


# Power


@dataclass(frozen=True)
class PowerGreat(Oddity):
    """More power than is seldom exceeded at a feed on this frequency."""

    kind: Odd = field(default=Odd.POWER_GREAT, init=False)
    power_w: float
    frequency_mhz: float
    seldom_w: float


@dataclass(frozen=True)
class PowerBeyondBattery(Oddity):
    """Power at the feed, and what the battery gives for it while sending."""

    kind: Odd = field(default=Odd.POWER_BEYOND_BATTERY, init=False)
    power_w: float
    drawn_w: float


# Operating


@dataclass(frozen=True)
class GroundGainUnused(Oddity):
    """A ground gain on a band that has none, and the bands that do."""

    kind: Odd = field(default=Odd.GROUND_GAIN_UNUSED, init=False)
    value: float
    bands: tuple[str, ...]


@dataclass(frozen=True)
class ModesUnknown(Oddity):
    """Modes that the mode table does not have."""

    kind: Odd = field(default=Odd.MODES_UNKNOWN, init=False)
    modes: tuple[str, ...]


@dataclass(frozen=True)
class LinearAmongCircular(Oddity):
    """The linear polarization that is told of a band where most have circular."""

    kind: Odd = field(default=Odd.LINEAR_AMONG_CIRCULAR, init=False)
    polarization: str


# Site


@dataclass(frozen=True)
class SkylineHigh(Oddity):
    """Points of the horizon above a limit."""

    kind: Odd = field(default=Odd.SKYLINE_HIGH, init=False)
    points: tuple[HorizonPoint, ...]
    limit_deg: float


@dataclass(frozen=True)
class PlaceFromLocator(Oddity):
    """A place that is known by its locator alone, and how well."""

    kind: Odd = field(default=Odd.PLACE_FROM_LOCATOR, init=False)
    locator: str
    uncertainty_km: float
