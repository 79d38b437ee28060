"""What `new` and `add` both take of a station, each under its key's name and the short ones that operators type."""

from __future__ import annotations

from typing import Annotated

import typer

Locator = Annotated[str | None, typer.Option("--locator", "--loc", "--grid", help="Maidenhead locator: GF25 or finer.")]
Latitude = Annotated[
    str | None,
    typer.Option("--latitude-deg", "--lat", "--latitude", help="Latitude, north positive, instead of a locator."),
]
Longitude = Annotated[
    str | None, typer.Option("--longitude-deg", "--lon", "--longitude", help="Longitude, east positive.")
]
Height = Annotated[str | None, typer.Option("--height-m", "--height", "--alt", help="Height above sea level.")]
Dish = Annotated[str | None, typer.Option("--dish-diameter-m", "--dish", help="Diameter of the dish.")]
Power = Annotated[str | None, typer.Option("--power-w", "--power", "--watts", help="Power at the feed.")]
SiteName = Annotated[str | None, typer.Option("--name", help="Name of the site.")]
OperatorName = Annotated[str | None, typer.Option("--operator", "--op", help="Name of the operator.")]
MailAddress = Annotated[str | None, typer.Option("--email", "--mail", help="Mail address.")]
TimeZone = Annotated[str | None, typer.Option("--time-zone", "--tz", help="IANA time zone: Europe/Helsinki.")]
