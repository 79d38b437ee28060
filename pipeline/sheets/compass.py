"""Magnetic declination at a site on a date, from the World Magnetic Model.

NCEI and BGS, the World Magnetic Model 2025 and its forerunners, through the package `pygeomag` and its coefficients.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pygeomag import GeoMag

# Newest first; each is valid for five years from its epoch.
MODELS = (("WMM-2025", 2025, "WMM_2025"), ("WMM-2020", 2020, "WMM_2020"), ("WMM-2015v2", 2015, "WMM_2015v2"))
YEARS_VALID = 5
# Below this horizontal field, in nT, the model's own report calls a compass unreliable.
CAUTION_NT = 6000.0


@dataclass(frozen=True)
class Declination:
    """Degrees by which a compass points east of true north, and the model's own one-sigma error."""

    east_deg: float
    uncertainty_deg: float
    model: str
    valid_from: int
    valid_until: int
    date_is_covered: bool
    horizontal_nt: float

    @property
    def compass_is_reliable(self) -> bool:
        """False near the magnetic poles."""
        return self.horizontal_nt >= CAUTION_NT

    def magnetic_deg(self, true_deg: float) -> float:
        """What a compass shows towards a true bearing, 0 to 360."""
        return (true_deg - self.east_deg) % 360.0


def declination(latitude_deg: float, longitude_deg: float, height_m: float, date: dt.date) -> Declination:
    """The declination at a WGS84 place; outside all models' years the nearest model is carried on and says so."""
    name, epoch, file = _model_for(date.year)
    field = _loaded(file).calculate(
        glat=latitude_deg,
        glon=longitude_deg,
        alt=height_m / 1000.0,
        time=decimal_year(date),
        allow_date_outside_lifespan=True,
    )
    horizontal = float(field.h)
    return Declination(
        east_deg=float(field.d),
        # Error model of the WMM2025 report: a constant part and one that grows where the field stands steep.
        uncertainty_deg=float((0.26**2 + (5417.0 / max(horizontal, 1.0)) ** 2) ** 0.5),
        model=name,
        valid_from=epoch,
        valid_until=epoch + YEARS_VALID,
        date_is_covered=epoch <= date.year < epoch + YEARS_VALID,
        horizontal_nt=horizontal,
    )


def decimal_year(date: dt.date) -> float:
    """The year with its fraction at the date's beginning."""
    first, following = dt.date(date.year, 1, 1), dt.date(date.year + 1, 1, 1)
    return date.year + (date - first).days / (following - first).days


def _model_for(year: int) -> tuple[str, int, str]:
    """The newest model that has begun, else the oldest."""
    return next((model for model in MODELS if model[1] <= year), MODELS[-1])


@lru_cache(maxsize=len(MODELS))
def _loaded(file: str) -> GeoMag:
    from pygeomag import GeoMag

    return GeoMag(coefficients_file=f"wmm/{file}.COF")
