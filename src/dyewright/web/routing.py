"""Every page of a studio, in one list: a page's module is added here."""

from dyewright.web.routes import colours, forecast, plan, pot, shelf, today, water

__all__ = ["ROUTERS"]

ROUTERS = (colours.router, forecast.router, plan.router, pot.router, shelf.router, today.router, water.router)
