"""The picture to turn towards the wearer, and the sliders that move what is looked at in it."""

from __future__ import annotations

from collections.abc import Sequence

import streamlit as st

from app.draw import result_words, side_view
from app.draw.above_view import Spot, Wide, above_view
from app.draw.svg import escaped
from app.form.case_of_answers import Asking
from app.form.compute import Answer
from app.form.fields import guarded, picked
from app.form.html import alert, html
from app.shell import state
from app.views.interview.rows import Row, usable
from engine.answer.options import PRESENT
from engine.case.model import Case
from engine.case.results import OptionResult
from engine.desk import sight
from engine.errors import InputRefusedError
from engine.tables import Judgements
from engine.wording import capital, head_words, hours, say

STEP_CM = 1
TODAY = "Today's pair"


@st.fragment
@guarded
def picture(answer: Answer, row: Row, asked: Asking) -> None:
    """Draw the views from the side and above; what happens in it redraws nothing else.

    While a value is refused the answer is an older one, whose things may not be in the form: then
    nothing is moved.
    """
    names = [target.name for target in answer.case.targets]
    looked_at = picked("view.target", "Show in the picture", names)
    above = st.container()
    index = names.index(looked_at)
    moves = answer.case.targets[index].kind != "far" and not asked.refused
    slot = slot_of(asked, index) if moves else ""
    up, away = _sliders(slot) if moves else (0, 0)
    with above:
        if not up and not away:
            option = row.seen_through(looked_at, answer.case)
            today = today_of(answer, option)
            html(pair_of_views(answer.case, option, looked_at, today=today))
            return
        try:
            there = sight.shifted(answer.case, index, up_cm=up, away_cm=away)
            through = row.seen_through(looked_at, there)
            found = sight.held(
                there,
                row.pairs,
                through=through,
                like=answer.case,
                beside=today_of(answer, through),
            )
        except InputRefusedError as refusal:
            html(alert(refusal.sentence))
            return
        html(pair_of_views(there, found.through, looked_at, today=found.beside))
        said = escaped(moved_words(answer, row, found, looked_at))
        html(f'<p class="lg-quiet lg-moved">{said}</p>')
    _take(answer.case, slot, index, up, away)


def _sliders(slot: str) -> tuple[int, int]:
    left, right = st.columns(2, gap="medium")
    most = int(Judgements.standard().desk_move_max_cm)
    found = []
    for place, name, label in (
        (left, "up", "Move it up (+) or down (−), cm"),
        (right, "away", "Move it farther (+) or nearer (−), cm"),
    ):
        key = state.seed(f"move.{slot}.{name}", 0)
        value = place.slider(label, -most, most, step=STEP_CM, key=key)
        found.append(int(state.keep(f"move.{slot}.{name}", value)))
    return found[0], found[1]


def slot_of(asked: Asking, index: int) -> str:
    """Return the slot of the form in which a target was asked; no value may be refused."""
    return asked.where[f"targets.{index}.name"].split(".")[0]


def _take(case: Case, slot: str, index: int, up: int, away: int) -> None:
    fields = sight.shifted_fields(case.targets[index], up_cm=up, away_cm=away)
    back = {f"move.{slot}.up": 0, f"move.{slot}.away": 0}
    taken = {f"{slot}.{name}": f"{value:g}" for name, value in fields.items()}
    left, right = st.columns(2, gap="medium")
    if left.button(
        "Use this position",
        key="take-place",
        width="stretch",
    ):
        state.put_later({**taken, **back})
        st.rerun()
    right.button(
        "Back to where it is",
        key="back-place",
        on_click=state.put,
        args=(back,),
        width="stretch",
    )


def moved_words(answer: Answer, row: Row, found: sight.Held, looked_at: str) -> str:
    """Return chin and hours through the held lens, there and here."""
    before = _centre(row.seen_through(looked_at, answer.case), looked_at)
    after = _centre(found.through, looked_at)
    day = hours(answer.case.day_h)
    return say(
        "interview_moved_here",
        after=after,
        after_h=hours(found.comfortable_h),
        day_h=day,
        before=before,
        before_h=hours(row.hours.comfortable_h),
    )


def _centre(option: OptionResult, looked_at: str) -> str:
    target = option.through(looked_at)
    if target.centre.chin_up_deg is not None:
        return head_words(target.centre.chin_up_deg)
    return side_view.NOT_SHARP if usable(target) else side_view.NOT_CLEAR


def today_of(answer: Answer, option: OptionResult) -> OptionResult | None:
    """Return the pair worn at the desk today, unless it is the lens that is looked through."""
    found = next((one for one in answer.result.options if one.option == PRESENT), None)
    return None if found is None or found.option == option.option else found


def pair_of_views(
    case: Case, option: OptionResult, looked_at: str, *, today: OptionResult | None = None
) -> str:
    """Draw the lens beside the pair worn today, or the free head, from the side and above."""
    things = {t.name: side_view.seen(t, case=case) for t in case.targets}
    side = side_view.side_view(
        target=things[looked_at],
        others=tuple(thing for name, thing in things.items() if name != looked_at),
        posture=_posture(option, looked_at),
        against=_free(option, looked_at) if today is None else _posture(today, looked_at),
        glasses=side_view.glasses_of(case),
        desk_cm=next(t.desk_below_eye_cm for t in case.targets if t.name == looked_at),
        name="side-lens",
    )
    spots = [
        Spot(target.name, target.kind, target.distance_cm, place)
        for target, place in zip(case.targets, sight.from_above(case), strict=True)
    ]
    above = above_view(
        spots=spots,
        looked_at=looked_at,
        lens=_wide(option, spots),
        against=None if today is None else _wide(today, spots),
        name="above-lens",
    )
    return f'<div class="lg-pair">{side}{above}</div>'


def _heading(option: OptionResult) -> str:
    if option.option == PRESENT:
        return TODAY
    return capital(result_words.option_name(option))


def _posture(option: OptionResult, looked_at: str) -> side_view.Posture:
    through = option.through(looked_at)
    return side_view.Posture(
        heading=_heading(option),
        chin_up_deg=through.centre.chin_up_deg,
        drawn_deg=through.centre.free_chin_up_deg,
        clear_rows=tuple(row.row for row in through.rows if row.chin_up_deg is not None),
        usable=usable(through),
    )


def _free(option: OptionResult, looked_at: str) -> side_view.Posture:
    free_deg = option.through(looked_at).centre.free_chin_up_deg
    return side_view.Posture("Natural head position", free_deg, free_deg, chosen=False)


def _wide(option: OptionResult, spots: Sequence[Spot]) -> Wide:
    through = {target.target: target for target in option.targets}
    return Wide(
        heading=_heading(option),
        clear_cm={spot.name: through[spot.name].clear_width_cm for spot in spots},
        turns={spot.name: sight.turn_to(spot.place, through[spot.name]) for spot in spots},
    )
