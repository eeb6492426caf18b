"""What today's page shows: what is at the pot, what is planned, what was kept last."""

from sqlalchemy.orm import Session

from dyewright.core.model import RunState
from dyewright.records import lots, runs, shelf, swatches

__all__ = ["today_view"]

RECENT_RUNS = 30
SHOWN_LOTS = 8


def today_view(session: Session) -> dict[str, object]:
    """Return the runs that wait for the dyer, by state, and the lots kept last."""
    recent = runs.list_runs(session, limit=RECENT_RUNS)
    return {
        "at_the_pot": [run for run in recent if run.state == RunState.AT_THE_POT],
        "planned": [run for run in recent if run.state == RunState.PLANNED],
        "dyed": [run for run in recent if run.state == RunState.DYED],
        "lots": lots.search_lots(session, limit=SHOWN_LOTS),
        "vessels": shelf.vessels(session),
        "dyes": shelf.dyes(session),
        "has_swatches": bool(swatches.swatches(session)),
    }
