"""A whole case as a FHIR bundle: equal after a round trip, damage refused with a reason."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable
from typing import Any

import pytest
from fhir.resources.bundle import Bundle

from engine.case.model import Case
from engine.case.read import build_case, read_case
from engine.errors import InputRefusedError
from engine.examples import EXAMPLES
from engine.files.case_json import case_content
from engine.files.fhir import UCUM_CODES, bundle, case_from_bundle

CASES = sorted(EXAMPLES.glob("*.json"))


def full_case() -> Case:
    """An invented case in which every part of a case is given."""
    content = case_content(read_case(CASES[0]))
    content["wearer"] |= {
        "amplitude_d": 1.25,
        "amplitude_through_lenses": True,
        "usable_fraction": 0.5,
        "accepts_lined": True,
        "conditions": ["halos_with_pain", "eye_injury"],
        "near_test_distance_cm": 40,
        "chart_distance_m": 5,
        "turns": "eyes",
    }
    content["wearer"]["right"] |= {
        "cylinder_d": -0.75,
        "axis_deg": 95,
        "prism": [{"amount_pd": 0.5, "base": "up"}],
    }
    content["fit"] |= {"wrap_deg": 6.5, "fitting_height_right_mm": 20, "fitting_height_left_mm": 21}
    content["fit"].pop("fitting_height_mm", None)
    office = {"near_add_d": 2.0, "degression_d": 1.0, "power_fall": "slow"}
    older = {"sphere_d": 0.75, "prism": [{"amount_pd": 1.5, "base": "in"}]}
    content["owned_pairs"] = [
        {"kind": "office", "design": office, "liked": True},
        {"kind": "sv_near", "prescription": {"right": older, "left": {"sphere_d": 0.5}}},
        {"kind": "bifocal_ft28", "design": {"line_drop_mm": 4}, "liked": False},
    ]
    content["measured_ranges"] = [
        {"trial_add_d": 1.0, "nearest_clear_cm": 45, "farthest_clear_cm": 110},
        {"trial_add_d": 2.0, "nearest_clear_cm": 30, "farthest_clear_cm": 52},
    ]
    content["activities"][0]["needs"] = ["stairs", "walking"]
    content["origin"] = {
        "/targets/0/distance_cm": "measured",
        "/wearer/right/axis_deg": "assumed",
        "/fit/wrap_deg": "default",
    }
    return build_case(content)


EVERY = [*map(read_case, CASES), full_case()]


@pytest.mark.parametrize("case", EVERY, ids=[*(path.stem for path in CASES), "full"])
def test_out_and_in_again_is_equal(case: Case) -> None:
    sent = json.loads(json.dumps(bundle(case), allow_nan=False))
    Bundle.model_validate(sent)
    back = case_from_bundle(sent, label=case.label)
    assert back == case.model_copy(update={"prices": {}, "extensions": {}})


def test_the_same_case_gives_the_same_bytes() -> None:
    assert json.dumps(bundle(full_case())) == json.dumps(bundle(full_case()))


def test_label_prices_and_foreign_data_stay_here() -> None:
    content = case_content(full_case())
    content |= {"label": "Quillfeather", "prices": {"office": 431.75}}
    content["extensions"] = {"practice": {"patient": "Vermilion"}}
    content["origin"]["/prices/office"] = "assumed"
    text = json.dumps(bundle(build_case(content)))
    for private in ("Quillfeather", "431.75", "Vermilion", "prices"):
        assert private not in text


def test_each_quantity_carries_its_ucum_unit_and_a_plain_name() -> None:
    components = [
        component
        for entry in bundle(full_case())["entry"]
        for component in entry["resource"].get("component", ())
    ]
    named = {one["code"]["text"]: one for one in components}
    assert named["vertex distance"]["valueQuantity"] == {
        "value": 13.0,
        "unit": "mm",
        "system": "http://unitsofmeasure.org",
        "code": "mm",
    }
    units = {
        "measured amplitude": "[diop]",
        "degression": "[diop]",
        "pantoscopic tilt": "deg",
        "hours a day": "h",
        "age": "a",
        "distance from the bridge of the nose": "cm",
        "diagonal": "[in_i]",
        "share of looking": "1",
    }
    for title, unit in units.items():
        assert named[title]["valueQuantity"]["code"] == unit
    assert all(len(one["code"]["text"]) > 2 for one in components)


def test_every_unit_of_the_case_has_its_ucum_code() -> None:
    text = json.dumps(Case.model_json_schema())
    schema = json.loads(text)
    units = {
        field["unit"]
        for model in schema["$defs"].values()
        for field in model["properties"].values()
        if "unit" in field
    }
    assert units <= set(UCUM_CODES)


def observation(sent: dict[str, Any], part: str) -> dict[str, Any]:
    return next(
        entry["resource"]
        for entry in sent["entry"]
        if entry["resource"].get("code", {}).get("coding", [{}])[0].get("code") == part
    )


def value(sent: dict[str, Any], part: str, path: str) -> dict[str, Any]:
    components = observation(sent, part)["component"]
    return next(one for one in components if one["code"]["coding"][0]["code"] == path)


def test_the_present_pair_of_a_bundle_of_an_earlier_version_is_the_first_owned() -> None:
    content = case_content(full_case()) | {"origin": {"/owned_pairs/0/kind": "assumed"}}
    content["owned_pairs"] = [{"kind": "office", "design": {"near_add_d": 1.5}}]
    case = build_case(content)
    text = json.dumps(bundle(case))
    assert "owned_pairs/0" in text
    case_again = case_from_bundle(
        json.loads(text.replace("owned_pairs/0", "present_pair")), label=case.label
    )
    assert case_again == case.model_copy(update={"extensions": {}, "prices": {}})


def without(*parts: str) -> Callable[[dict[str, Any]], None]:
    def damage(sent: dict[str, Any]) -> None:
        for part in parts:
            gone = observation(sent, part)
            sent["entry"] = [entry for entry in sent["entry"] if entry["resource"] is not gone]

    return damage


def change(part: str, path: str, **values: Any) -> Callable[[dict[str, Any]], None]:
    return lambda sent: value(sent, part, path).update(values)


def quantity(part: str, path: str, **values: Any) -> Callable[[dict[str, Any]], None]:
    return lambda sent: value(sent, part, path)["valueQuantity"].update(values)


def recode(part: str, path: str, code: str) -> Callable[[dict[str, Any]], None]:
    return lambda sent: value(sent, part, path)["code"]["coding"][0].update(code=code)


def twice(part: str) -> Callable[[dict[str, Any]], None]:
    def damage(sent: dict[str, Any]) -> None:
        sent["entry"].append({"resource": copy.deepcopy(observation(sent, part))})

    return damage


def double(sent: dict[str, Any]) -> None:
    sent["entry"].append(copy.deepcopy(sent["entry"][0]))


DAMAGED: list[tuple[str, Callable[[dict[str, Any]], Any], str]] = [
    ("not a bundle", lambda sent: sent.update(resourceType="List"), "resourceType"),
    ("a message", lambda sent: sent.update(type="message"), "Bundle.type"),
    ("empty", lambda sent: sent.update(entry=[]), "Bundle.entry"),
    (
        "an entry without resource",
        lambda sent: sent["entry"].append({}),
        "resource: nothing is given. Needed: a resource",
    ),
    (
        "no prescription",
        lambda sent: sent["entry"].pop(0),
        "VisionPrescription: nothing is given. Needed: exactly one",
    ),
    ("two prescriptions", double, "exactly one"),
    ("no wearer", without("wearer"), "Bundle.wearer"),
    ("no target", without("targets/0", "targets/1"), "Bundle.targets"),
    ("a target missing between", without("targets/0"), "without a gap"),
    ("no activity", without("activities/0"), "Bundle.activities"),
    ("a part twice", twice("fit"), "each part once"),
    (
        "a part in error",
        lambda sent: observation(sent, "fit").update(status="entered-in-error"),
        "final, amended, corrected",
    ),
    (
        "a part with a modifier",
        lambda sent: observation(sent, "fit").update(modifierExtension=[{"url": "urn:x"}]),
        "Observation fit",
    ),
    (
        "a part of another version",
        lambda sent: observation(sent, "fit")["code"]["coding"][0].update(code="chair"),
        "a part of the case",
    ),
    ("no component", lambda sent: observation(sent, "fit").update(component=[]), "component"),
    ("a value twice", recode("fit", "wrap_deg", "vertex_mm"), "once"),
    ("a foreign value", recode("fit", "wrap_deg", "hinge_mm"), "fit.hinge_mm"),
    ("a value below a value", recode("targets/0", "laptop", "distance_cm/0"), "a path of the case"),
    ("inches for cm", quantity("targets/0", "distance_cm", code="[in_i]"), "the UCUM unit cm"),
    ("another unit system", quantity("fit", "vertex_mm", system="urn:x"), "the UCUM unit mm"),
    ("less than", quantity("fit", "vertex_mm", comparator="<"), "a plain quantity"),
    ("out of range", quantity("targets/0", "distance_cm", value=5), "targets.0.distance_cm: 5"),
    (
        "a number as text",
        quantity("fit", "vertex_mm", value="13"),
        "fit.vertex_mm: 13 in quotes cannot be used. Allowed: a number",
    ),
    ("two values", change("fit", "vertex_mm", valueString="13"), "one of valueQuantity"),
    ("a text for a number", lambda sent: as_text(sent), "targets.0.distance_cm"),
    (
        "a damaged prescription",
        lambda sent: sent["entry"][0]["resource"]["lensSpecification"][0].update(axis=0),
        "axis: 0",
    ),
    (
        "a share out of range",
        quantity("activities/0", "looks/0/share", value=1.5),
        "looks.0.share: 1.5",
    ),
    (
        "an origin of nothing",
        recode("origin", "/fit/wrap_deg", "/fit/chair"),
        "origin: /fit/chair cannot be used. Allowed: the path",
    ),
]


def as_text(sent: dict[str, Any]) -> None:
    component = value(sent, "targets/0", "distance_cm")
    del component["valueQuantity"]
    component["valueString"] = "67 cm"


@pytest.mark.parametrize(
    ("damage", "reason"), [row[1:] for row in DAMAGED], ids=[row[0] for row in DAMAGED]
)
def test_a_damaged_bundle_is_refused_with_its_reason(
    damage: Callable[[dict[str, Any]], Any], reason: str
) -> None:
    sent = bundle(full_case())
    damage(sent)
    with pytest.raises(InputRefusedError) as told:
        case_from_bundle(sent, label="A12")
    assert reason in str(told.value)
    assert "Traceback" not in str(told.value)
