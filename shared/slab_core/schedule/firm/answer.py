"""From a question about the firm's schedule to its answer."""

from __future__ import annotations

from slab_core.numerics.budget import Budget
from slab_core.schedule.firm.asked import FirmAnswer, FirmQuestion
from slab_core.schedule.firm.plan import plan_firm
from slab_core.schedule.firm.replan import replan_firm, what_if


def answer(*, question: FirmQuestion, budget: Budget) -> FirmAnswer:
    """The plan, the plan after a slip, or what one more job would do, within the budget.

    Raises
    ------
    InputRefused
        as `plan_firm`, `replan_firm` and `what_if` do.
    Stopped
        when the budget says so.
    """
    firm, now, seed = question.firm(), question.now_minute, question.seed
    if question.ask == "plan":
        plan = plan_firm(firm=firm, from_minute=now, budget=budget, seed=seed)
        return FirmAnswer(ask="plan", plan=plan, problems=plan.problems)
    if question.new is None:
        again = replan_firm(
            firm=firm,
            before=question.before,
            now=now,
            budget=budget,
            free=frozenset(question.free),
            seed=seed,
        )
        return FirmAnswer(
            ask="replan",
            plan=again.plan,
            moves=again.moves,
            newly_late=again.newly_late,
            problems=again.plan.problems,
        )
    told = what_if(firm=firm, before=question.before, job=question.new, now=now, budget=budget, seed=seed)
    return FirmAnswer(ask="what-if", plan=None, what_if=told, problems=told.problems)
