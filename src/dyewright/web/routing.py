"""Every page of a studio, in one list: a page's module is added here."""

from dyewright.web.routes import pot, shelf, today

__all__ = ["ROUTERS"]

ROUTERS = (pot.router, shelf.router, today.router)
