"""What the turning of the polarization on the way between two stations costs, and whether turning a feed helps.

The reflection keeps the direction of a linear feed in the sky, so two equal feeds on two horizons meet at the
difference of their parallactic angles. Faraday rotation after ITU-R P.531; the caps on the loss are judgement.
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

    def turned_in(self, group: npt.ArrayLike | None = None) -> npt.NDArray[np.bool_]:
        """Whether a feed should stand turned, for each sample: decided once a group (a window), by the mean power.

        `group` is a number from 0 for each sample's group; it and the result have one shape, that of the offset. Left
        out, all are one group.
        """
        place = np.zeros(self.offset_deg.shape, dtype=np.int64) if group is None else np.asarray(group)
        if self.faraday_decides or self.who_can_turn == "neither" or not place.size:
            return np.zeros(place.shape, dtype=bool)
        standing, turned = (np.bincount(place, 10.0 ** (-db / 10.0)) for db in (self.standing_db, self.turned_db))
        return np.asarray((turned > standing)[place])


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


def polarization_offset_deg(home_parallactic_deg: npt.ArrayLike, partner_parallactic_deg: npt.ArrayLike) -> Array:
    """Parallactic angle at the partner less that at home, folded to -90..90 degrees, signed (home sends).

    Shapes broadcast.
    """
    partner = np.asarray(partner_parallactic_deg, dtype=float)
    return fold_deg(partner - np.asarray(home_parallactic_deg, dtype=float))


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
