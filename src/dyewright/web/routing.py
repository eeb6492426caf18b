"""Every page of a studio, in one list: a page's module is added here."""

from dyewright.web.routes import (
    colours,
    forecast,
    judge,
    lots,
    pictures,
    plan,
    pot,
    runs,
    shelf,
    swatches,
    today,
    water,
)

__all__ = ["ROUTERS"]

ROUTERS = (
    pictures.router,  # before colours: /colours/picture is no colourway's number
    colours.router,
    forecast.router,
    judge.router,
    lots.router,
    plan.router,
    pot.router,
    runs.router,
    swatches.router,
    shelf.router,
    today.router,
    water.router,
)
