"""The order of work of one dyeing: what is done when, and what to be careful about."""

from dyewright.services.order_of_work.bench import Bench
from dyewright.services.order_of_work.steps import usual_rinses, work_steps

__all__ = ["Bench", "usual_rinses", "work_steps"]
