"""What the turning of the polarization on the way between two stations costs, and whether turning a feed helps.

A linear feed's direction is mirrored on the facet of the Moon that sends the ray on, and meets the other end's feed
there; where both rays coincide that is the difference of the parallactic angles. Faraday rotation after ITU-R P.531;
the caps on the loss are judgement.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Feed = Literal["horizontal", "vertical", "rotatable", "circular"]
WhoCanTurn = Literal["home", "partner", "either", "neither"]

LINEAR_TO_CIRCULAR_DB = 10.0 * np.log10(2.0)
# Half of the power is lost on average when the direction is random.
RANDOM_ROTATION_DB = 10.0 * np.log10(2.0)
# Below this the ionosphere turns the polarization by many degrees, and both ways add up.
FARADAY_LIMIT_MHZ = 1500.0
# The Moon depolarizes part of the echo, so a null is never deeper (judgement after Evans and Pettengill 1963).
CAP_FROM_5_GHZ_DB, CAP_BELOW_DB = 15.0, 20.0


@dataclass(frozen=True)
class PolarizationLoss:
    """Losses in dB in the shape of the offset; `who_can_turn` and `faraday_decides` are the pair's.

    `standing_db`: feeds as they stand, rotatable ones horizontal. `turned_db`: one of them turned by 90 degrees; the
    same as `standing_db` where nobody can. Both are geometric. `linear` says whether the offset matters at all.
    """

    offset_deg: Array
    standing_db: Array
    turned_db: Array
    who_can_turn: WhoCanTurn
    linear: bool
    faraday_decides: bool

    def for_signal_db(self, turned: npt.ArrayLike = False) -> Array:
        """The loss that the signal-to-noise ratio takes: geometric, or 3 dB where Faraday rotation is random.

        In dB; `turned` and the offset broadcast.
        """
        geometric = np.where(np.asarray(turned, dtype=bool), self.turned_db, self.standing_db)
        return np.full_like(geometric, RANDOM_ROTATION_DB) if self.faraday_decides else np.asarray(geometric)

    def turned_is_better(self) -> npt.NDArray[np.bool_]:
        """Whether a turned feed loses less, in the shape of the offset; nowhere where none turns or chance decides."""
        if self.faraday_decides or self.who_can_turn == "neither":
            return np.zeros(self.offset_deg.shape, dtype=bool)
        return np.asarray(self.turned_db < self.standing_db)


def parallactic_angle_deg(
    azimuth_deg: npt.ArrayLike, elevation_deg: npt.ArrayLike, latitude_deg: npt.ArrayLike
) -> Array:
    """Angle at the Moon from the celestial north pole to the zenith, degrees, positive west of the meridian.

    From topocentric azimuth (north through east) and geometric elevation; the form of Meeus, Astronomical Algorithms,
    14.1, turned into horizontal coordinates, so that no quadrant is lost. Shapes broadcast.
    """
    azimuth = np.radians(np.asarray(azimuth_deg, dtype=float))
    elevation = np.radians(np.asarray(elevation_deg, dtype=float))
    latitude = np.radians(np.asarray(latitude_deg, dtype=float))
    across = -np.sin(azimuth) * np.cos(latitude)
    along = np.sin(latitude) * np.cos(elevation) - np.cos(latitude) * np.sin(elevation) * np.cos(azimuth)
    return np.asarray(np.degrees(np.arctan2(across, along)))


def fold_deg(angle_deg: npt.ArrayLike) -> Array:
    """The same direction of a line, from -90 (not included) to 90 degrees; any shape."""
    return np.asarray(90.0 - (90.0 - np.asarray(angle_deg, dtype=float)) % 180.0)


@dataclass(frozen=True)
class Look:
    """Where a station stands and sees the Moon, degrees: azimuth and geometric elevation, geodetic place.

    Arrays of one shape, or single figures.
    """

    azimuth_deg: npt.ArrayLike
    elevation_deg: npt.ArrayLike
    latitude_deg: npt.ArrayLike
    longitude_deg: npt.ArrayLike


def polarization_offset_deg(sender: Look, receiver: Look) -> Array:
    """Angle at the receiver from the arriving upright of the sender's feed to its own, folded to -90..90 degrees.

    Both looks at one instant, in Earth-fixed axes. v: the zenith across the ray; mirrored at the facet n between both
    rays, e = v_A - 2 (n v_A) n; offset = atan2((e x v_B)(-k_B), e v_B), positive north through east. Antisymmetric in
    the ends; shapes broadcast.
    """
    (ray_a, upright_a), (ray_b, upright_b) = _ray_and_upright(sender), _ray_and_upright(receiver)
    facet = -_unit(ray_a + ray_b)
    arriving = upright_a - 2.0 * _dot(facet, upright_a)[..., None] * facet
    across = _dot(np.cross(arriving, upright_b), -ray_b)
    return fold_deg(np.degrees(np.arctan2(across, _dot(arriving, upright_b))))


def _ray_and_upright(look: Look) -> tuple[Array, Array]:
    """Unit vectors (..., 3), Earth-fixed: towards the Moon, and the zenith as far as it stands across that ray."""
    angles = look.azimuth_deg, look.elevation_deg, look.latitude_deg, look.longitude_deg
    azimuth, elevation, latitude, longitude = (np.radians(np.asarray(angle, dtype=float)) for angle in angles)
    # The axes of one place are worked out once for all directions.
    latitude, longitude = np.broadcast_arrays(latitude, longitude)
    zero = np.zeros_like(latitude)
    up = np.stack([np.cos(latitude) * np.cos(longitude), np.cos(latitude) * np.sin(longitude), np.sin(latitude)], -1)
    east = np.stack([-np.sin(longitude), np.cos(longitude), zero], -1)
    level = np.sin(azimuth)[..., None] * east + np.cos(azimuth)[..., None] * np.cross(up, east)
    ray = np.cos(elevation)[..., None] * level + np.sin(elevation)[..., None] * up
    return ray, _unit(up - _dot(up, ray)[..., None] * ray)


def _dot(first: Array, second: Array) -> Array:
    return np.asarray(np.sum(first * second, axis=-1))


def _unit(vector: Array) -> Array:
    return np.asarray(vector / np.linalg.norm(vector, axis=-1, keepdims=True))


def loss_cap_db(frequency_mhz: float) -> float:
    """The deepest null that the Moon's own depolarization leaves, dB."""
    return CAP_FROM_5_GHZ_DB if frequency_mhz >= 5000.0 else CAP_BELOW_DB


def linear_loss_db(angle_deg: npt.ArrayLike, frequency_mhz: float) -> Array:
    """Loss between linear feeds at an angle in the sky: -20 log10 |cos|, capped; any shape."""
    cosine = np.abs(np.cos(np.radians(np.asarray(angle_deg, dtype=float))))
    cap_db = loss_cap_db(frequency_mhz)
    return np.asarray(-20.0 * np.log10(np.maximum(cosine, 10.0 ** (-cap_db / 20.0))))


def polarization_loss(
    offset_deg: npt.ArrayLike, home_feed: Feed, partner_feed: Feed, frequency_mhz: float
) -> PolarizationLoss:
    """Losses of a pair of feeds at the offset, as they stand and with one turned by 90 degrees.

    Two circular feeds lose nothing: by convention of practice the senses are chosen for the swap at the reflection.
    All in dB, in any shape: that of the offset.
    """
    offset = np.asarray(offset_deg, dtype=float)
    circular = (home_feed == "circular") + (partner_feed == "circular")
    if circular:
        loss = np.full_like(offset, LINEAR_TO_CIRCULAR_DB if circular == 1 else 0.0)
        return PolarizationLoss(offset, loss, loss, "neither", linear=False, faraday_decides=False)
    crossed = (home_feed == "vertical") != (partner_feed == "vertical")
    standing = linear_loss_db(offset + 90.0 * crossed, frequency_mhz)
    turned = linear_loss_db(offset + 90.0 * (not crossed), frequency_mhz)
    who = who_can_turn(home_feed, partner_feed)
    return PolarizationLoss(
        offset_deg=offset,
        standing_db=standing,
        turned_db=standing if who == "neither" else turned,
        who_can_turn=who,
        linear=True,
        faraday_decides=frequency_mhz < FARADAY_LIMIT_MHZ,
    )


def who_can_turn(home_feed: Feed, partner_feed: Feed) -> WhoCanTurn:
    """Whose feed can be turned by 90 degrees."""
    home, partner = home_feed == "rotatable", partner_feed == "rotatable"
    if home and partner:
        return "either"
    return "home" if home else "partner" if partner else "neither"


def faraday_rotation_deg(
    frequency_mhz: npt.ArrayLike, electrons_per_m2: npt.ArrayLike = 1e17, field_t: float = 5e-5, passes: int = 2
) -> Array:
    """Rotation by the ionosphere, degrees: 2.36e-14 B N / f_GHz^2 radians a pass (ITU-R P.531).

    The reflection does not undo it: up and down add, hence two passes. Shapes broadcast; electrons per square metre
    along the path, field in tesla.
    """
    ghz = np.asarray(frequency_mhz, dtype=float) / 1e3
    radians = passes * 2.36e-14 * field_t * np.asarray(electrons_per_m2, dtype=float) / ghz**2
    return np.asarray(np.degrees(radians))
