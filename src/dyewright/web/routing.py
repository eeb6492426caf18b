"""Every page of a studio, in one list: a page's module is added here."""

from dyewright.web.routes import forecast, pot, shelf, today, water

__all__ = ["ROUTERS"]

ROUTERS = (forecast.router, pot.router, shelf.router, today.router, water.router)
