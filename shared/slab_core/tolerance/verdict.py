"""The floor's answer, pass, fail or measure more, of its rules, its level and its F-numbers together."""

from slab_core.tolerance.model import RuleReport, Verdict


def verdict_of(*, rules: tuple[RuleReport, ...], others: tuple[Verdict | None, ...]) -> Verdict:
    """The answer to everything that was asked for."""
    found = (*(rule.chance.verdict for rule in rules if rule.chance is not None), *others)
    return together(tuple(answer for answer in found if answer is not None))


def together(answers: tuple[Verdict, ...]) -> Verdict:
    """Fail where one surely fails, pass where all surely pass."""
    if "fail" in answers:
        return "fail"
    return "measure-more" if "measure-more" in answers else "pass"
