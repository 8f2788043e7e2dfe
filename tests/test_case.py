"""Cases: every limit at, just under and just over; rules between fields; doubts that do not stop.

The numeric limits are read from the fields themselves, so a new field is tested without a new line
here. What is written here once more, on purpose, are the rules that are not a limit of one field.
"""

from __future__ import annotations

import copy
import json
import math
import time
from collections.abc import Callable, Iterator
from functools import cache
from typing import Annotated, Any

import pytest
from pydantic import TypeAdapter, ValidationError
from pydantic.fields import FieldInfo

from engine import tables
from engine.case import model as case_module
from engine.case.model import Case, Design, Fit, Look, MeasuredRange, Name, Target, Wearer
from engine.case.prescription import EyePrescription, Prism
from engine.case.read import DEEPEST, MOST_VALUES, allowed_range, build_case, usual_range_flags
from engine.errors import InputRefusedError

EYE: dict[str, Any] = {"sphere_d": 1.0, "cylinder_d": -0.5, "axis_deg": 90, "add_d": 2.0}
SCREEN: dict[str, Any] = {
    "name": "screen",
    "kind": "screen",
    "distance_cm": 65,
    "top_above_eye_cm": 0,
    "width_cm": 50,
    "height_cm": 30,
    "text_height_mm": 3,
}
CONTENT: dict[str, Any] = {
    "schema": 1,
    "label": "invented",
    "wearer": {
        "age_years": 55,
        "right": {**EYE, "prism": [{"amount_pd": 1.0, "base": "in"}]},
        "left": EYE,
    },
    "fit": {"fitting_height_mm": 20},
    "owned_pairs": [{"kind": "office", "design": {"near_add_d": 2.0, "degression_d": 1.0}}],
    "targets": [
        SCREEN,
        {
            "name": "visitor",
            "kind": "far",
            "distance_cm": 300,
            "centre_above_eye_cm": 0,
            "text_arcmin": 16,
        },
    ],
    "activities": [
        {"name": "desk", "hours": 6, "looks": [{"target": "screen", "share": 1.0}]},
        {"name": "way home", "hours": 1, "looks": [], "needs": ["driving"]},
    ],
    "measured_ranges": [
        {"trial_add_d": 1.0, "nearest_clear_cm": 45, "farthest_clear_cm": 120},
    ],
}

Path = tuple[str | int, ...]
PLACES: dict[type, Path] = {
    Wearer: ("wearer",),
    EyePrescription: ("wearer", "right"),
    Prism: ("wearer", "right", "prism", 0),
    Fit: ("fit",),
    Design: ("owned_pairs", 0, "design"),
    Target: ("targets", 0),
    case_module.Activity: ("activities", 0),
    Look: ("activities", 0, "looks", 0),
    MeasuredRange: ("measured_ranges", 0),
}
OBJECTS: tuple[Path, ...] = ((), ("owned_pairs", 0), *PLACES.values())


def changed(path: Path, value: Any, *, start: dict[str, Any] = CONTENT) -> dict[str, Any]:
    """The content with one value set."""
    content = copy.deepcopy(start)
    at: Any = content
    for part in path[:-1]:
        at = at[part]
    at[path[-1]] = value
    return content


def refusal(content: dict[str, Any]) -> InputRefusedError:
    with pytest.raises(InputRefusedError) as caught:
        build_case(content)
    return caught.value


def _limits(info: FieldInfo) -> dict[str, float]:
    found = {}
    for rule in info.metadata:
        for name in ("ge", "gt", "le", "lt"):
            if hasattr(rule, name):
                found[name] = getattr(rule, name)
    return found


def _numeric_fields() -> Iterator[tuple[type, str, dict[str, float]]]:
    for model in PLACES:
        for name, info in model.model_fields.items():  # type: ignore[attr-defined]
            if _limits(info):
                yield model, name, _limits(info)


NUMERIC = list(_numeric_fields())


def test_every_number_of_a_case_has_two_limits_and_a_unit() -> None:
    numbers = {
        (model, name)
        for model in PLACES
        for name, info in model.model_fields.items()  # type: ignore[attr-defined]
        if info.annotation in (float, int, float | None, int | None)
    }
    assert {(model, name) for model, name, _ in NUMERIC} == numbers
    assert len(numbers) > 40
    for model, name, limits in NUMERIC:
        assert {rule[0] for rule in limits} == {"g", "l"}, (model, name)
        info = model.model_fields[name]  # type: ignore[attr-defined]
        assert info.title, (model, name)
        if info.annotation in (float, float | None):
            assert info.json_schema_extra["unit"], (model, name)


@pytest.mark.parametrize(("model", "name", "limits"), NUMERIC, ids=lambda part: str(part)[-30:])
def test_a_number_at_just_under_and_just_over_its_limits(
    model: type, name: str, limits: dict[str, float]
) -> None:
    info = model.model_fields[name]  # type: ignore[attr-defined]
    accepts = TypeAdapter(Annotated[info.annotation, *info.metadata]).validate_python
    whole = info.annotation is int
    path = (*PLACES[model], name)
    field, allowed = ".".join(str(part) for part in path), allowed_range(info)
    for rule, limit in limits.items():
        outward = math.inf if rule[0] == "l" else -math.inf
        outside = limit + math.copysign(1, outward) if whole else math.nextafter(limit, outward)
        inside = limit if rule in ("ge", "le") else math.nextafter(limit, -outward)
        if rule in ("gt", "lt"):
            outside = limit
        assert accepts(inside) == inside
        with pytest.raises(ValidationError):
            accepts(outside)
        found = refusal(changed(path, outside))
        assert found.field == field
        assert found.value == outside
        assert found.allowed == allowed
        assert f"{limit:g}" in allowed


@pytest.mark.parametrize(("model", "name", "limits"), NUMERIC, ids=lambda part: str(part)[-30:])
@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, 1e308, "55", True, [1], {}])
def test_what_is_no_number_is_refused_under_its_field(
    model: type, name: str, limits: dict[str, float], value: Any
) -> None:
    assert limits
    path = (*PLACES[model], name)
    assert refusal(changed(path, value)).field == ".".join(str(part) for part in path)


@pytest.mark.parametrize("path", OBJECTS, ids=lambda path: ".".join(map(str, path)) or "case")
def test_an_unknown_key_is_refused_by_name(path: Path) -> None:
    found = refusal(changed((*path, "eye_colour"), "grey"))
    assert found.field == ".".join(str(part) for part in (*path, "eye_colour"))
    assert "extensions" in found.allowed


@pytest.mark.parametrize("path", OBJECTS, ids=lambda path: ".".join(map(str, path)) or "case")
def test_an_object_is_not_a_list_nor_a_number(path: Path) -> None:
    if path:
        for value in ([], 3, "x"):
            assert refusal(changed(path, value)).allowed == "an object"


@pytest.mark.parametrize(
    ("path", "field"),
    [
        (("label",), "label"),
        (("targets", 0, "name"), "targets.0.name"),
        (("activities", 0, "name"), "activities.0.name"),
        (("activities", 0, "looks", 0, "target"), "activities.0.looks.0.target"),
    ],
)
@pytest.mark.parametrize(
    "name",
    [
        "![x](http://a)",
        "[x](http://a)",
        "<b>bold</b>",
        "*bold*",
        "`code`",
        "# head",
        "a|b",
        "a: b",
        "$x$",
        "line\nline",
        "end\n",
        "tab\tstop",
        "\u202eright to left",
        "_under",
        "",
        "x" * 41,
        7,
        None,
    ],
)
def test_a_name_that_could_be_markup_is_refused(path: Path, field: str, name: Any) -> None:
    if path == ("label",) and name == "end\n":
        assert build_case(changed(path, name)).label == "end"
        return
    assert refusal(changed(path, name)).field == field


@pytest.mark.parametrize("name", ["Écran 2", "Ana's desk, left", "A/B + C & D", "x" * 40, "27_in."])
def test_an_ordinary_name_is_kept(name: str) -> None:
    assert TypeAdapter(Name).validate_python(name) == name
    assert build_case(changed(("label",), name)).label == name


def _without(path: Path, *names: str) -> dict[str, Any]:
    content = copy.deepcopy(CONTENT)
    at: Any = content
    for part in path:
        at = at[part]
    for name in names:
        del at[name]
    return content


def strong(*, vertex_mm: float) -> dict[str, Any]:
    """The case before eyes of +28 D, the lenses so far away."""
    content = copy.deepcopy(CONTENT)
    for side in ("right", "left"):
        content["wearer"][side] = {"sphere_d": 28.0, "add_d": 2.0}
    content["fit"]["vertex_mm"] = vertex_mm
    return content


TARGET, ACTIVITY = ("targets", 0), ("activities", 0)


def worn_office(design: dict[str, Any]) -> dict[str, Any]:
    """The content with an office lens worn today."""
    return changed(("owned_pairs", 0), {"kind": "office", "design": design})


RULES: dict[str, tuple[dict[str, Any], str, str]] = {
    "cylinder and sphere too strong together": (
        changed(("wearer", "left"), {**EYE, "sphere_d": -25.0, "cylinder_d": -5.25}),
        "wearer.left.cylinder_d",
        "sphere at most 30 D",
    ),
    "an add between none and the smallest": (
        changed(("wearer", "left", "add_d"), 0.2),
        "wearer.left.add_d",
        "0.25 to 4 D, or 0 where none is needed",
    ),
    "turned neither way": (changed(("wearer", "turns"), "chair"), "wearer.turns", "'head' or"),
    "two prisms of one direction": (
        changed(("wearer", "right", "prism"), 2 * [{"amount_pd": 1.0, "base": "in"}]),
        "wearer.right.prism",
        "at most one prism",
    ),
    "three heights": (
        changed(("fit",), {"fitting_height_mm": 20, "fitting_height_right_mm": 20}),
        "fit.fitting_height_mm",
        "not both",
    ),
    "one height of two": (
        changed(("fit",), {"fitting_height_left_mm": 20}),
        "fit.fitting_height_right_mm",
        "both eyes",
    ),
    "height as deep as the lens": (
        changed(("fit",), {"fitting_height_mm": 34, "lens_depth_mm": 34}),
        "fit.fitting_height_mm",
        "less than the boxed lens height, 34 mm",
    ),
    "default height deeper than the lens": (
        changed(("fit",), {"lens_depth_mm": 20}),
        "fit.fitting_height_mm",
        "less than the boxed lens height, 20 mm",
    ),
    # The focus of +28 lies 1000 / 28 = 35.7 mm behind it, the centre of rotation 13.5 mm + vertex.
    "eye beyond the focus of the lens": (
        strong(vertex_mm=22.3),
        "fit.vertex_mm",
        "less than 22.2 mm before a lens of +28.00 D upright",
    ),
    "no height above the eye": (
        _without(TARGET, "top_above_eye_cm"),
        "targets.0.top_above_eye_cm",
        "one of them",
    ),
    "top and centre": (
        changed((*TARGET, "centre_above_eye_cm"), -10),
        "targets.0.top_above_eye_cm",
        "one of them",
    ),
    "no text": (_without(TARGET, "text_height_mm"), "targets.0.text_height_mm", "one of them"),
    "text twice": (
        changed((*TARGET, "text_arcmin"), 20),
        "targets.0.text_height_mm",
        "one of them",
    ),
    "far target by its top": (
        changed(
            ("targets", 1),
            {
                "name": "visitor",
                "kind": "far",
                "distance_cm": 300,
                "top_above_eye_cm": 0,
                "text_arcmin": 16,
            },
        ),
        "targets.1.centre_above_eye_cm",
        "the height of the centre",
    ),
    "no size": (_without(TARGET, "width_cm"), "targets.0.diagonal_in", "one of them"),
    "size twice": (
        changed(TARGET, {**SCREEN, "diagonal_in": 24, "aspect": "16:9"}),
        "targets.0.diagonal_in",
        "one of them",
    ),
    "a word for a number": (
        changed((*TARGET, "offset_cm"), "wide"),
        "targets.0.offset_cm",
        "a number (-",
    ),
    "nearer than it is high": (
        changed((*TARGET, "top_above_eye_cm"), 60),
        "targets.0.distance_cm",
        "along the line of sight",
    ),
    "nearer than it is aside": (
        changed((*TARGET, "offset_cm"), -60),
        "targets.0.distance_cm",
        "along the line of sight",
    ),
    "shares under 1": (
        changed((*ACTIVITY, "looks"), [{"target": "screen", "share": 0.989}]),
        "activities.0.looks",
        "add up to 1, give or take 0.01",
    ),
    "shares over 1": (
        changed(
            (*ACTIVITY, "looks"),
            [{"target": "screen", "share": 1.0}, {"target": "visitor", "share": 0.011}],
        ),
        "activities.0.looks",
        "add up to 1, give or take 0.01",
    ),
    "nothing looked at": (changed((*ACTIVITY, "looks"), []), "activities.0.looks", "a need for"),
    "a target twice": (
        changed((*ACTIVITY, "looks"), 2 * [{"target": "screen", "share": 0.5}]),
        "activities.0.looks",
        "each target once",
    ),
    "a target that is not there": (
        changed((*ACTIVITY, "looks", 0, "target"), "tablet"),
        "activities.0.looks.0.target",
        "the name of a target: screen, visitor",
    ),
    "two targets of one name": (
        changed(("targets", 1, "name"), "screen"),
        "targets.1.name",
        "a name used once",
    ),
    "two activities of one name": (
        changed(("activities", 1, "name"), "desk"),
        "activities.1.name",
        "a name used once",
    ),
    "more hours than a day": (
        changed((*ACTIVITY, "hours"), 23.5),
        "activities.hours",
        "24 h at most",
    ),
    "a power fall under both its names": (
        worn_office({"power_fall": "slow", "shape": "desk"}),
        "owned_pairs.0.design.shape",
        "no shape beside the power fall, its new name",
    ),
    "an earlier shape that never was": (
        worn_office({"shape": ["room"]}),
        "owned_pairs.0.design.shape",
        "desk or room",
    ),
    "no target": (changed(("targets",), []), "targets", "at least 1 item"),
    "thirteen targets": (
        changed(("targets",), [{**SCREEN, "name": f"screen {n}"} for n in range(13)]),
        "targets",
        "at most 12 items",
    ),
    "unknown kind of lens": (
        changed(("owned_pairs", 0, "kind"), "crystal"),
        "owned_pairs.0.kind",
        "one of sv_distance",
    ),
    "unknown condition": (
        changed(("wearer", "conditions"), ["tired"]),
        "wearer.conditions.0",
        "one of ",
    ),
    "price of an unknown lens": (
        changed(("prices",), {"crystal": 1.0}),
        "prices.crystal",
        "one of sv_distance",
    ),
    "price below nothing": (changed(("prices",), {"office": -0.01}), "prices.office", "0"),
    "price in words": (changed(("prices",), {"office": "120"}), "prices.office", "a number"),
    "yes for true": (changed((*TARGET, "movable"), "yes"), "targets.0.movable", "true or false"),
    "aspect without a colon": (
        changed(TARGET, {**SCREEN, "diagonal_in": 24, "aspect": "16x9"}),
        "targets.0.aspect",
        "16:9",
    ),
    "another schema": (changed(("schema",), 2), "schema", "1"),
    "no left eye": (_without(("wearer",), "left"), "wearer.left", "a value"),
    "half an axis": (
        changed(("wearer", "left", "axis_deg"), 90.5),
        "wearer.left.axis_deg",
        "a whole number",
    ),
}


@pytest.mark.parametrize("name", RULES)
def test_a_rule_between_fields(name: str) -> None:
    content, field, allowed = RULES[name]
    found = refusal(content)
    assert found.field == field
    assert allowed in found.allowed
    assert "\n" not in str(found)


@pytest.mark.parametrize(
    "content",
    [
        changed(("wearer", "left"), {**EYE, "sphere_d": -25.0, "cylinder_d": -5.0}),
        changed(("wearer", "left", "add_d"), 0.25),
        changed(("wearer", "left", "add_d"), 0),
        changed(("fit",), {"fitting_height_mm": 33.9, "lens_depth_mm": 34}),
        changed(("fit",), {"fitting_height_right_mm": 20, "fitting_height_left_mm": 21}),
        strong(vertex_mm=22.2),
        changed((*TARGET, "top_above_eye_cm"), 58.5),
        changed((*ACTIVITY, "looks"), [{"target": "screen", "share": 0.99}]),
        changed((*ACTIVITY, "hours"), 23),
        changed(("prices",), {"office": 0.0, "sv_near": None}),
        changed(("extensions",), {"shop": {"shelf": [1, None, "x"]}}),
    ],
)
def test_at_the_edge_of_a_rule_a_case_is_made(content: dict[str, Any]) -> None:
    assert isinstance(build_case(content), Case)


CROWD = 300_000
"""Keys as in a file of 5 MB; checked one by one they took several seconds."""


@cache
def keys() -> dict[str, int]:
    """So many keys, made when a test first asks: two tenths of a second."""
    return {f"k{number}": 0 for number in range(CROWD)}


NAMED = f"k0, k1, k2 and {CROWD - 3:,} more keys"


@pytest.mark.parametrize(
    ("made", "field", "value"),
    [
        (lambda: CONTENT | keys(), "case", NAMED),
        (lambda: changed(("targets", 0), CONTENT["targets"][0] | keys()), "targets.0", NAMED),
        (lambda: changed(("origin",), keys()), "origin", NAMED),
        (lambda: changed(("targets",), [{}] * CROWD), "targets", f"{CROWD:,} items"),
        (lambda: changed(("targets",), [{"a": [0] * 600}] * 100), "targets.7.a", "600 items"),
    ],
    ids=["unknown keys", "of a target", "origins", "targets", "many small lists"],
)
def test_a_crowd_of_values_is_refused_at_once(
    made: Callable[[], dict[str, Any]], field: str, value: str
) -> None:
    content = made()
    began = time.process_time()
    found = refusal(content)
    assert time.process_time() - began <= 4.0, "seconds; it takes a quarter of one"
    assert (found.field, found.value) == (field, value)
    assert found.allowed.startswith(f"at most {MOST_VALUES:,} values")


def test_a_crowd_of_foreign_data_is_kept() -> None:
    assert len(build_case(changed(("extensions",), keys())).extensions) == CROWD


def test_a_key_that_is_deep_is_refused_before_it_is_read() -> None:
    deep: Any = 1
    for _ in range(DEEPEST):
        deep = [deep]
    assert refusal(changed(("extensions",), {"x": deep})).allowed == f"nested {DEEPEST} deep"
    assert isinstance(build_case(changed(("extensions",), {"x": deep[0][0][0]})), Case)


@pytest.mark.parametrize(
    "pointer",
    [
        "/targets/0/distance_cm",
        "/wearer/right/add_d",
        "/fit/vertex_mm",
        "/activities/1/needs/0",
        "/wearer",
    ],
)
@pytest.mark.parametrize("origin", ["measured", "default", "assumed", "at_home"])
def test_an_origin_points_to_a_value(pointer: str, origin: str) -> None:
    case = build_case(changed(("origin",), {pointer: origin}))
    assert case.origin == build_case(CONTENT).origin | {pointer: origin}
    assert case.is_assumed(pointer) is (origin in ("default", "assumed"))


@pytest.mark.parametrize(
    "pointer", ["/targets/2/distance_cm", "/targets/0/colour", "targets/0", "", "/", "distance_cm"]
)
def test_an_origin_that_points_nowhere_is_refused(pointer: str) -> None:
    found = refusal(changed(("origin",), {pointer: "measured"}))
    assert (found.field, found.value) == ("origin", pointer)


def test_an_origin_is_one_of_four() -> None:
    found = refusal(changed(("origin",), {"/wearer": "guessed"}))
    assert found.field == "origin./wearer"
    assert "at_home" in found.allowed


LEFT_OUT = {
    "/wearer/near_test_distance_cm": 40,
    "/fit/fitting_height_mm": 20,
    "/fit/vertex_mm": 13.0,
    "/fit/pantoscopic_deg": 9.0,
    "/targets/0/tilt_deg": 0,
}
"""What the program fills in, and a value that says the same."""


def bare(*given: str) -> dict[str, Any]:
    """The content with only these of the values that the program fills in."""
    content = copy.deepcopy(CONTENT) | {"fit": {}}
    for pointer in given:
        part, *index, name = pointer[1:].split("/")
        (content[part][int(index[0])] if index else content[part])[name] = LEFT_OUT[pointer]
    return content


def test_what_was_left_out_is_a_default_and_what_was_typed_is_not() -> None:
    assert build_case(bare()).origin == dict.fromkeys(LEFT_OUT, "default")
    assert all(map(build_case(bare()).is_assumed, LEFT_OUT))
    for pointer in LEFT_OUT:
        case = build_case(bare(pointer))
        assert case.origin == dict.fromkeys(LEFT_OUT.keys() - {pointer}, "default")
        assert not case.is_assumed(pointer)
    assert build_case(bare(*LEFT_OUT)).origin == {}


def test_every_value_with_a_spread_is_marked_or_must_be_given() -> None:
    must = {"distance_cm", "top_above_eye_cm", "centre_above_eye_cm", "text_height_mm"}
    names = {row["id"] for row in tables.rows("assumed_spreads")}
    assert names - must == {pointer.rsplit("/")[-1] for pointer in LEFT_OUT}


def test_what_is_given_in_another_way_is_not_left_out() -> None:
    content = bare("/fit/vertex_mm", "/fit/pantoscopic_deg", "/targets/0/tilt_deg")
    content["fit"] |= {"fitting_height_right_mm": 19, "fitting_height_left_mm": 20}
    content["targets"][0] |= {"centre_above_eye_cm": -10, "text_arcmin": 20}
    del content["targets"][0]["top_above_eye_cm"], content["targets"][0]["text_height_mm"]
    content["wearer"]["near_test_distance_cm"] = 40
    assert build_case(content).origin == {}
    content["origin"] = {"/fit/fitting_height_left_mm": "assumed"}
    assert build_case(content).is_assumed("/fit/fitting_height_mm")


def test_what_is_said_of_a_part_counts_for_its_values() -> None:
    content = bare(*LEFT_OUT) | {"origin": {"/fit": "assumed", "/fit/vertex_mm": "measured"}}
    case = build_case(content)
    assert case.is_assumed("/fit/pantoscopic_deg")
    assert not case.is_assumed("/fit/vertex_mm")
    assert not case.is_assumed("/wearer/age_years")


def test_marking_what_was_left_out_changes_no_digest() -> None:
    """The digests were computed when nothing was marked."""
    digest = "e5b79a56"
    case = build_case(bare())
    assert case.digest().startswith(digest)
    assert build_case(case.model_dump(by_alias=True, mode="json")).digest() == case.digest()
    form = dict.fromkeys(
        (f"/fit/{name}" for name in Fit.model_fields if "fitting" not in name), "default"
    )
    told = build_case(bare() | {"origin": form})
    assert told.digest().startswith("b4ef4a17")
    assert told.digest() != case.digest()


# --- doubts ----------------------------------------------------------------------------------

LIMIT_STEP = 0.01
"""Just inside and just outside: finer than any of these values is given."""


def _with_usual(row: dict[str, str], value: float) -> dict[str, Any]:
    part, field = row["applies_to"], row["field"]
    if field == "centration_difference_mm":
        content = changed(("wearer", "pd_right_mm"), 30.0 + value)
        content["wearer"]["pd_left_mm"] = 30.0
        return content
    if part == "wearer":
        return changed(("wearer", field), value)
    if part == "eye":
        return changed(("wearer", "left", field), value)
    if part == "fit":
        return changed(("fit",), {"fitting_height_mm": 19, "lens_depth_mm": 40, field: value})
    target = {**SCREEN, "kind": "screen" if part == "laptop" else part, "laptop": part == "laptop"}
    if field == "width_cm":
        target = {key: kept for key, kept in target.items() if key not in ("diagonal_in", "aspect")}
        target["height_cm"] = 20.0
    if field == "azimuth_deg":
        field, value = "offset_cm", SCREEN["distance_cm"] * math.sin(math.radians(value))
    return changed(TARGET, {**target, field: value})


def _fits(row: dict[str, str], value: float) -> bool:
    if value < 0 and "difference" in row["field"]:
        return False
    try:
        build_case(_with_usual(row, value))
    except InputRefusedError:
        return False
    return True


def _doubted(row: dict[str, str], value: float) -> list[str]:
    flags = usual_range_flags(build_case(_with_usual(row, value)))
    return [flag.source for flag in flags if flag.source.startswith(row["source"])]


OF_A_CASE = [row for row in tables.rows("usual_ranges") if row["applies_to"] != "people"]
"""A far target may be at any distance: only a roster knows that somebody sits there."""


@pytest.mark.parametrize("row", OF_A_CASE, ids=lambda row: row["id"])
def test_a_value_outside_a_usual_range_is_computed_flagged_and_cited(row: Any) -> None:
    low, high = float(row["low"]), float(row["high"])
    for value in (low, high, low + LIMIT_STEP, high - LIMIT_STEP):
        assert not _doubted(row, value), value
    beyond = [value for value in (low - LIMIT_STEP, high + LIMIT_STEP) if _fits(row, value)]
    assert beyond, "a range as wide as the limits of the field can never be left"
    for value in beyond:
        assert _doubted(row, value), value
        flag = next(
            flag
            for flag in usual_range_flags(build_case(_with_usual(row, value)))
            if flag.source.startswith(row["source"])
        )
        assert row["status"] in flag.source
        assert row["high"] in flag.range


def test_an_ordinary_case_raises_no_doubt() -> None:
    assert usual_range_flags(build_case(CONTENT)) == ()


# --- what a case says of itself --------------------------------------------------------------


def test_a_case_cannot_be_changed() -> None:
    case = build_case(CONTENT)
    with pytest.raises(ValidationError, match="frozen"):
        case.label = "other"  # type: ignore[misc]
    with pytest.raises(ValidationError, match="frozen"):
        case.targets[0].distance_cm = 1.0  # type: ignore[misc]


def test_the_digest_knows_values_and_not_labels_or_defaults() -> None:
    digest = build_case(CONTENT).digest()
    assert digest == "da6153ae09b8f1875ede3d0ae447d89487b0aad209d08328652548a0dc68146a"
    same: list[Callable[[], dict[str, Any]]] = [
        lambda: changed(("label",), "another"),
        lambda: changed(("fit", "vertex_mm"), 13.0),
        lambda: changed(("wearer", "chart_distance_m"), 6.0),
        lambda: changed(("wearer", "turns"), None),
        lambda: changed(("targets", 0, "distance_cm"), 65.0),
        lambda: json.loads(json.dumps(CONTENT)),
        lambda: dict(reversed(CONTENT.items())),
    ]
    for content in same:
        assert build_case(content()).digest() == digest
    for content in (
        changed(("fit", "vertex_mm"), 13.1),
        changed(("wearer", "chart_distance_m"), 5.0),
        changed(("wearer", "turns"), "eyes"),
        changed(("wearer", "right", "add_d"), 0.0),
        changed(("targets", 0, "distance_cm"), 65.1),
        changed(("extensions",), {"a": 1}),
    ):
        assert build_case(content).digest() != digest


PAIR: dict[str, Any] = CONTENT["owned_pairs"][0]
NEAR: dict[str, Any] = {"kind": "sv_near", "design": {"add_d": 1.5}, "liked": True}


def with_pairs(present: Any = None, *owned: Any, origin: Any = None) -> dict[str, Any]:
    """The content with a pair as earlier files give it, and pairs owned."""
    content = _without((), "owned_pairs") | {"origin": origin or {}}
    content |= {"present_pair": present} if present else {}
    return content | ({"owned_pairs": list(owned)} if owned else {})


def test_a_case_with_one_pair_has_the_digest_it_had_as_the_present_pair() -> None:
    """The numbers were computed when a case had one pair, under the name present_pair."""
    liked = "a2bfc486"
    for asked, digest in ((None, "da6153ae"), (False, "da6153ae"), (True, liked)):
        found = build_case(with_pairs(PAIR | {} if asked is None else PAIR | {"liked": asked}))
        assert found.digest().startswith(digest)
    assert build_case(with_pairs(None, PAIR | {"liked": True})).digest().startswith(liked)
    others = [with_pairs(None, PAIR | {"liked": False}), with_pairs(None, PAIR, NEAR)]
    others += [with_pairs(None, PAIR | {"prescription": {"right": EYE, "left": EYE}}), with_pairs()]
    digests = {build_case(content).digest() for content in [*others, CONTENT]}
    assert len(digests) == 5


def test_the_pair_worn_at_the_desk_is_the_first_owned() -> None:
    assert build_case(with_pairs()).present_pair is None
    case = build_case(with_pairs(None, NEAR, PAIR))
    assert case.present_pair == case.owned_pairs[0]
    assert case.present_pair is not None
    assert (case.present_pair.kind, case.present_pair.liked) == ("sv_near", True)
    assert (case.owned_pairs[1].liked, case.owned_pairs[1].prescription) == (None, None)


@pytest.mark.parametrize(("liked", "read"), [(True, True), (False, None), (None, None)])
def test_the_present_pair_of_an_earlier_file_is_the_first_owned(liked: Any, read: Any) -> None:
    old = with_pairs(PAIR | {"liked": liked}, origin={"/present_pair/kind": "at_home"})
    case = build_case(old)
    assert case == build_case(
        with_pairs(None, PAIR | {"liked": read}, origin={"/owned_pairs/0/kind": "at_home"})
    )
    assert case.present_pair is not None
    assert case.present_pair.liked is read
    assert old["present_pair"]["liked"] is liked, "what is read is not changed"


def test_a_present_pair_beside_owned_ones_comes_first_and_once() -> None:
    origin = {
        "/owned_pairs/0/kind": "measured",
        "/owned_pairs/1/kind": "at_home",
        "/owned_pairs/1/design/near_add_d": "measured",
        "/present_pair/kind": "assumed",
    }
    far = {"kind": "sv_distance"}
    case = build_case(with_pairs(PAIR, NEAR, PAIR | {"liked": True}, far, origin=origin))
    assert [pair.kind for pair in case.owned_pairs] == ["office", "sv_near", "sv_distance"]
    assert case.owned_pairs[0].liked is True, "said in one of two places"
    assert {at: case.origin[at] for at in case.origin if at.startswith("/owned_pairs")} == {
        "/owned_pairs/0/kind": "assumed",
        "/owned_pairs/0/design/near_add_d": "measured",
        "/owned_pairs/1/kind": "measured",
    }
    assert len(build_case(with_pairs(PAIR, NEAR)).owned_pairs) == 2


def test_four_pairs_are_owned_at_most() -> None:
    assert len(build_case(with_pairs(PAIR, *[NEAR] * 3)).owned_pairs) == 4
    found = refusal(with_pairs(PAIR, *[NEAR] * 4))
    assert (found.field, found.allowed) == ("owned_pairs", "at most 4 items")


def test_a_case_written_and_read_again_is_the_same() -> None:
    case = build_case(CONTENT)
    assert build_case(case.model_dump(by_alias=True, mode="json")) == case


def test_the_one_computed_eye() -> None:
    left = {**EYE, "sphere_d": -2.0, "cylinder_d": -1.0, "axis_deg": 180, "add_d": 1.75}
    wearer = build_case(changed(("wearer", "left"), left)).wearer
    assert wearer.add_d == 1.75
    assert wearer.left.vertical_power_d == -3.0
    assert abs(wearer.vertical_power_d - (1.0 - 3.0) / 2) <= 1e-12  # the residue of cos(90 deg)
    assert abs(wearer.vertical_difference_d - 4.0) <= 1e-12
    no_add = {name: value for name, value in EYE.items() if name != "add_d"}
    content = changed(("wearer", "left"), no_add)
    content["wearer"]["right"] = no_add
    assert build_case(content).wearer.add_d is None


def test_an_add_of_nothing_is_an_add_and_a_blank_is_none() -> None:
    none_needed = {**EYE, "add_d": 0.0}
    content = changed(("wearer", "left"), none_needed)
    content["wearer"]["right"] = none_needed
    assert build_case(content).wearer.add_d == 0.0
