"""Compiling the kernels of the firm's plan before work arrives."""

from datetime import time

from slab_core.numerics.budget import Budget
from slab_core.schedule.firm.model import Crew, Firm, FirmJob, Site, Task
from slab_core.schedule.firm.plan import plan_firm
from slab_core.schedule.firm.replan import replan_firm
from slab_core.schedule.model import Calendar
from slab_core.schedule.people import Choice


def warm() -> None:
    """Plan one task of one crew, and plan it again: compiles everything, or loads it from the cache."""
    shifts = tuple((day, time(8), time(16)) for day in range(7))
    calendar = Calendar(version="", time_zone="UTC", shifts=shifts)
    task = Task(id="one", what="one", skill="any", choices=(Choice(people=1, minutes=60),))
    firm = Firm(
        crews=(Crew(id="crew", people=1, skills=frozenset({"any"}), calendar=calendar),),
        machines=(),
        sites=(Site(id="site"),),
        jobs=(FirmJob(id="job", site="site", tasks=(task,), earliest=0),),
        travel={},
    )
    visits = plan_firm(firm=firm, from_minute=0, budget=Budget()).visits
    replan_firm(firm=firm, before=visits, now=0, budget=Budget())
