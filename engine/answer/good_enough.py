"""Answer a case once more for a wearer to whom text need not be sharp: good enough will do.

Sharp is blur that is not noticed. What counts as good enough is blur up to the ratio at which it
troubles (usable_blur_ratio). Which of the two somebody means changes the plan more often than any
other judgement, so both are answered.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from engine.answer.options import Solver
from engine.answer.plans import told
from engine.answer.reasons import plan_name
from engine.answer.recommend import answered
from engine.wording import hours, number

if TYPE_CHECKING:
    from engine.case.model import Case
    from engine.case.results import Result, Told
    from engine.tables import Judgements


def good_enough(case: Case, result: Result, *, judgements: Judgements) -> Told | None:
    """Return which plan comes first where blur counts only once it troubles; takes a whole search.

    result: the answer to the case with the same judgements. None where no plan is put first.
    """
    if result.recommendation.plan is None:
        return None
    ratio = judgements.usable_blur_ratio
    lax = replace(judgements, blur_limit_base_d=ratio * judgements.blur_limit_base_d)
    plan = answered(case, Solver(case, lax).options(), judgements=lax).plan
    if plan is None:
        return None
    values = {
        "ratio": number(ratio, places=1),
        "plan": plan_name(plan),
        "hours_h": hours(plan.comfortable_h),
        "day_h": hours(case.day_h),
    }
    if plan.name == result.plans[0].plan:
        return told("good_enough_same", **values)
    return told("good_enough_other", **values)
