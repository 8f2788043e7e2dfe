"""Cases and details from which a complete order can be made, for the tests of orders and sheets.

Everybody in here is invented.
"""

from __future__ import annotations

import json
from functools import cache
from typing import Any

from engine.assemble import advise
from engine.case.model import Case
from engine.case.read import build_case
from engine.case.results import Result
from engine.examples import EXAMPLES
from engine.order.make import order_for
from engine.order.types import Order, OrderDetails

FIT = {
    "vertex_mm": 13.0,
    "pantoscopic_deg": 9.0,
    "wrap_deg": 5.0,
    "lens_width_mm": 52.0,
    "bridge_mm": 18.0,
    "lens_depth_mm": 34.0,
    "fitting_height_right_mm": 20.0,
    "fitting_height_left_mm": 20.5,
}
DETAILS: dict[str, Any] = {
    "compensated_power_wanted": True,
    "power_authorised_by": "prescriber",
    "office_reference": "pupil_centre",
    "minimum_height_mm": 17.0,
    "effective_diameter_mm": 55.0,
    "blank_diameter_mm": 75.0,
    "shape_trace": "sent",
    "lens_index": 1.6,
    "coating": "anti-reflective",
    "tint": "none",
    "remake_terms": "one remake within 60 days",
}
STRONG = {"sphere_d": -6.5, "cylinder_d": -1.25, "axis_deg": 10, "add_d": 2.0}


def content(name: str = "eye_level_27in") -> dict[str, Any]:
    """A case with everything about the frame measured."""
    found: dict[str, Any] = json.loads((EXAMPLES / f"{name}.json").read_text("utf-8"))
    found["wearer"] |= {"pd_right_mm": 31.0, "pd_left_mm": 32.5, "near_test_distance_cm": 40.0}
    found["fit"] = dict(FIT)
    found["origin"] = {f"/fit/{name}": "measured" for name in FIT}
    found["wearer"]["accepts_lined"] = True
    return found


def strong() -> dict[str, Any]:
    """The same with a strong prescription, a prism and a condition for the prescriber."""
    found = content()
    prism = [{"amount_pd": 2.0, "base": "up"}]
    found["wearer"] |= {"right": STRONG | {"prism": prism}, "left": STRONG | {"axis_deg": 170}}
    found["wearer"]["conditions"] = ["neck_disease", "safety_rating_needed"]
    return found


STRONG_DETAILS = DETAILS | {
    "refraction_vertex_mm": 12.0,
    "power_basis": "at_fitted_vertex",
    "prism_in_near_zone": True,
    "prescriber_agreed": True,
    "safety_rating": "rated",
}


@cache
def answered(text: str) -> tuple[Case, Result]:
    """A case and its answer; the case as JSON text, so that each is computed once."""
    case = build_case(json.loads(text))
    return case, advise(case)


def order(
    found: dict[str, Any], *, option: str = "office", details: dict[str, Any] | None = None
) -> Order:
    """An order for an option of a case."""
    case, result = answered(json.dumps(found))
    asked = OrderDetails.model_validate(DETAILS if details is None else details)
    return order_for(case=case, result=result, option=option, details=asked)
