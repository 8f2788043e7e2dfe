"""Cautions of any valid case: whole sentences, in order, the same for mirrored eyes."""

from __future__ import annotations

from itertools import pairwise

from hypothesis import given, settings
from hypothesis import strategies as st

from engine import tables
from engine.answer import cautions
from engine.case.model import Case
from engine.lenses.kinds import KINDS
from tests.caution_cases import (
    STANDARD,
    TABLE,
    case,
    check_values,
    ids,
    option,
    seen,
    told_of,
    told_of_case,
)


def check_order(told):
    place = {identity: number for number, identity in enumerate(TABLE)}
    assert all(place[one.id] <= place[two.id] for one, two in pairwise(told))


QUARTERS = st.integers(1, 16).map(lambda n: n / 4)
ADDS = st.none() | QUARTERS
PRISMS = st.lists(
    st.builds(lambda amount, base: {"amount_pd": amount, "base": base}, QUARTERS, st.just("in")),
    max_size=1,
)
EYE_CONTENT = st.builds(
    lambda sphere, cylinder, axis, add, prism: {
        "sphere_d": sphere,
        "cylinder_d": cylinder,
        "axis_deg": axis,
        "add_d": add,
        "prism": prism,
    },
    st.floats(-20, 20),
    st.floats(-10, 10),
    st.integers(1, 180),
    ADDS,
    PRISMS,
)
DESIGNS = st.fixed_dictionaries(
    {},
    optional={
        "add_d": st.floats(0, 4),
        "near_add_d": st.floats(0, 4),
        "degression_d": st.floats(0, 4),
        "upper_add_d": st.floats(0, 4),
        "corridor_mm": st.floats(8, 18),
        "power_fall": st.sampled_from(["slow", "quick"]),
    },
)


@st.composite
def targets(draw):
    found = []
    for number in range(draw(st.integers(1, 4))):
        kind = draw(st.sampled_from(["screen", "page", "far"]))
        distance = draw(st.floats(15, 2000))
        height = draw(st.floats(-min(0.6 * distance, 150), min(0.6 * distance, 290)))
        top = kind != "far" and draw(st.booleans())
        found.append(
            {
                "name": f"thing {number}",
                "kind": kind,
                "distance_cm": distance,
                ("top_above_eye_cm" if top else "centre_above_eye_cm"): height,
                "offset_cm": draw(st.floats(-min(0.6 * distance, 500), min(0.6 * distance, 500))),
                "text_arcmin": draw(st.floats(1, 100)),
                "width_cm": draw(st.floats(2, 400)),
                "height_cm": draw(st.floats(2, 400)),
                "tilt_deg": draw(st.none() | st.floats(-45, 90)),
            }
        )
    return found


@st.composite
def cases(draw):
    wearer = {
        "age_years": draw(st.floats(18, 110)),
        "amplitude_d": draw(st.none() | st.floats(0, 15)),
        "right": draw(EYE_CONTENT),
        "left": draw(EYE_CONTENT),
        "conditions": draw(
            st.lists(st.sampled_from(list(tables.by_id("conditions"))), unique=True)
        ),
    }
    present = draw(
        st.none()
        | st.fixed_dictionaries(
            {"kind": st.sampled_from(list(KINDS)), "design": DESIGNS, "liked": st.booleans()}
        )
    )
    heights = st.floats(6, 33)
    fit = {
        "fitting_height_right_mm": draw(heights),
        "fitting_height_left_mm": draw(heights),
        "vertex_mm": draw(st.floats(5, 25)),
    }
    needs = draw(st.lists(st.lists(st.sampled_from(["driving", "walking", "stairs"]), min_size=1)))
    return case(wearer=wearer, fit=fit, targets=draw(targets()), present=present, needs=needs[:4])


@st.composite
def options(draw, asked: Case):
    numbers = st.none() | st.floats(-40, 60)
    found = [
        seen(
            target.name,
            chin=draw(numbers),
            gaze=draw(numbers),
            imbalance=draw(st.none() | st.floats(0, 20)),
        )
        for target in asked.targets
    ]
    kind = draw(st.sampled_from(list(KINDS)))
    return option(kind, targets=found, covers=draw(st.booleans()), **draw(DESIGNS))


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_any_valid_case_is_told_whole_sentences_in_order(data):
    asked = data.draw(cases())
    lens = data.draw(options(asked))
    for told in (
        cautions.stops(asked, judgements=STANDARD),
        cautions.case_cautions(asked, judgements=STANDARD),
        told_of(asked, lens),
    ):
        check_values(told)
        check_order(told)
        assert set(cautions.excludes(ids(told))) <= set(ids(told))


@settings(max_examples=50, deadline=None)
@given(st.data())
def test_what_is_said_of_a_case_does_not_depend_on_which_eye_is_which(data):
    asked = data.draw(cases())
    wearer = asked.wearer.model_copy(
        update={"right": asked.wearer.left, "left": asked.wearer.right}
    )
    mirrored = asked.model_copy(update={"wearer": wearer})
    assert ids(told_of_case(mirrored)) == ids(told_of_case(asked))
