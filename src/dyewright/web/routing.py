"""Every page of a studio, in one list: a page's module is added here."""

from dyewright.web.routes import (
    bath_photo,
    cloth,
    colour_work,
    colours,
    evenings,
    experiments,
    forecast,
    heat_ups,
    judge,
    lots,
    pictures,
    plan,
    pot,
    reach,
    runs,
    series,
    shelf,
    shelf_advice,
    shop_picture,
    swatches,
    today,
    two_ways,
    water,
    ways,
    wet,
)

__all__ = ["ROUTERS"]

ROUTERS = (
    bath_photo.router,
    cloth.router,
    pictures.router,  # before colours: /colours/picture is no colourway's number
    colour_work.router,  # before colours: /colours/overdye is no colourway's number
    series.router,  # before colours: /colours/series is no colourway's number
    colours.router,
    evenings.router,
    experiments.router,
    forecast.router,
    heat_ups.router,
    judge.router,
    lots.router,
    plan.router,
    pot.router,
    reach.router,
    runs.router,
    swatches.router,
    shelf_advice.router,  # before the shelf: /shelf/advice is no kind of thing on it
    shelf.router,
    shop_picture.router,
    today.router,
    two_ways.router,
    water.router,
    ways.router,
    wet.router,
)
