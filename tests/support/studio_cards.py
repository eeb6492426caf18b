"""Cards that tests of studios plan from, and runs planned and kept at once."""

from dyewright.services import running

__all__ = ["CHOIR", "plan_run", "repeat_run"]

CHOIR = """
title = "Choir shawls"
[yarn]
fibre = { wool = 70, silk = 30 }
dry = "300 g"
skeins = 3
[[dye]]
name = "Lagoon"
class = "acid milling"
depth = "0.6 %"
[bath]
water = "9 L"
[water]
alkalinity = "95 mg/L"
[[assistant]]
kind = "white vinegar 5 %"
amount = "60 mL"
[[pot]]
volume = "12 L"
power = "1800 W"
heat = "induction"
"""


def plan_run(session, **said):
    """Plan a run and keep it, in one transaction."""
    return running.keep_run(session, running.planned_run(session, **said))


def repeat_run(session, run_id, **said):
    """Plan a run again and keep it, in one transaction."""
    return running.keep_run(session, running.repeated_run(session, run_id, **said))
