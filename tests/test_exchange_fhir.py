"""The prescription as FHIR: equal after a round trip, damaged resources refused with a reason.

The standard's own model (fhir.resources) is asked about every damaged resource too, so that the
table says which of them only our checks stop.
"""

from __future__ import annotations

import copy
import json
import math
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from fhir.resources.visionprescription import VisionPrescription
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from engine.case.model import Case
from engine.case.prescription import EyePrescription, Prescription, Prism
from engine.case.read import read_case
from engine.errors import InputRefusedError
from engine.examples import EXAMPLES
from engine.files import fhir
from engine.files.fhir import (
    FhirExtraMissingError,
    check_structure,
    prescription_from_fhir,
    prescription_to_fhir,
    set_aside,
)

LENS = {
    "product": {
        "coding": [
            {
                "system": "http://terminology.hl7.org/CodeSystem/ex-visionprescriptionproduct",
                "code": "lens",
            }
        ]
    }
}


def case_with(right: EyePrescription, left: EyePrescription) -> Case:
    case = read_case(EXAMPLES / "low_24in.json")
    return case.model_copy(
        update={"wearer": case.wearer.model_copy(update={"right": right, "left": left})}
    )


def resource() -> dict[str, Any]:
    """A sound resource, as another program might write it; nobody's."""
    return {
        "resourceType": "VisionPrescription",
        "id": "invented",
        "status": "active",
        "created": "2025-03-04",
        "patient": {"reference": "Patient/invented"},
        "dateWritten": "2025-03-04",
        "prescriber": {"reference": "Practitioner/invented"},
        "lensSpecification": [
            {
                **copy.deepcopy(LENS),
                "eye": "right",
                "sphere": -2.25,
                "cylinder": -0.5,
                "axis": 180,
                "prism": [{"amount": 0.5, "base": "up"}, {"amount": 1, "base": "in"}],
                "add": 2.0,
            },
            {**copy.deepcopy(LENS), "eye": "left", "sphere": 0, "add": 2.0},
        ],
    }


def test_a_sound_resource_is_read() -> None:
    found = prescription_from_fhir(resource())
    prism = (Prism(amount_pd=0.5, base="up"), Prism(amount_pd=1, base="in"))
    right = EyePrescription(sphere_d=-2.25, cylinder_d=-0.5, axis_deg=180, add_d=2.0, prism=prism)
    assert found == Prescription(right=right, left=EyePrescription(sphere_d=0.0, add_d=2.0))


def test_what_the_library_dumps_is_read_as_well() -> None:
    dumped = VisionPrescription.model_validate(resource()).model_dump()
    dumped["lensSpecification"][0]["sphere"] = Decimal("-2.25")
    assert prescription_from_fhir(dumped) == prescription_from_fhir(resource())


def test_what_is_written_is_what_the_standard_asks_for() -> None:
    right = EyePrescription(sphere_d=-2.25, cylinder_d=-0.5, axis_deg=5, add_d=1.75)
    written = prescription_to_fhir(case_with(right, EyePrescription(sphere_d=1.0)))
    lenses = written["lensSpecification"]
    assert (written["resourceType"], written["status"]) == ("VisionPrescription", "active")
    assert [lens["eye"] for lens in lenses] == ["right", "left"]
    assert lenses[0] == {
        **LENS,
        "eye": "right",
        "sphere": -2.25,
        "cylinder": -0.5,
        "axis": 5,
        "add": 1.75,
    }
    assert lenses[1] == {**LENS, "eye": "left", "sphere": 1.0}
    VisionPrescription.model_validate(written)


def test_nobody_is_named_and_no_label_is_sent() -> None:
    case = read_case(EXAMPLES / "low_24in.json").model_copy(update={"label": "Quillfeather"})
    text = json.dumps(prescription_to_fhir(case))
    assert "Quillfeather" not in text
    placeholder = {
        "extension": [
            {
                "url": "http://hl7.org/fhir/StructureDefinition/data-absent-reason",
                "valueCode": "not-asked",
            }
        ]
    }
    written = prescription_to_fhir(case)
    for element in ("patient", "prescriber", "encounter", "_created", "_dateWritten"):
        assert written[element] == placeholder


def eighths(low: float, high: float) -> st.SearchStrategy[float]:
    return st.integers(int(low * 8), int(high * 8)).map(lambda count: count / 8)


PRISMS = st.tuples(
    st.lists(st.sampled_from(["up", "down"]), max_size=1),
    st.lists(st.sampled_from(["in", "out"]), max_size=1),
    st.sampled_from([0.25, 0.5, 1.3, 20.0]),
).map(lambda drawn: tuple(Prism(amount_pd=drawn[2], base=base) for base in drawn[0] + drawn[1]))
EYES = st.builds(
    EyePrescription,
    sphere_d=eighths(-20, 20),
    cylinder_d=eighths(-10, 10),
    axis_deg=st.integers(1, 180),
    add_d=st.none() | st.just(0.0) | eighths(0.25, 4),
    prism=PRISMS,
)


@settings(deadline=None)
@given(right=EYES, left=EYES)
def test_out_and_in_again_is_equal(right: EyePrescription, left: EyePrescription) -> None:
    written = json.loads(json.dumps(prescription_to_fhir(case_with(right, left))))
    assert prescription_from_fhir(written) == Prescription(right=right, left=left)


def test_an_eighth_written_short_is_taken_as_it_stands() -> None:
    given_ = resource()
    given_["lensSpecification"][0] |= {"sphere": -2.12, "cylinder": -0.38, "add": 1.625}
    right = prescription_from_fhir(given_).right
    assert (right.sphere_d, right.cylinder_d, right.add_d) == (-2.12, -0.38, 1.625)


def test_an_add_of_nothing_was_written_and_a_missing_one_was_not() -> None:
    given_ = resource()
    given_["lensSpecification"][0]["add"] = 0
    del given_["lensSpecification"][1]["add"]
    found = prescription_from_fhir(given_)
    assert (found.right.add_d, found.left.add_d) == (0.0, None)


def test_a_power_off_the_steps_is_not_written_either() -> None:
    with pytest.raises(InputRefusedError, match=r"wearer\.left\.sphere_d"):
        prescription_to_fhir(
            case_with(EyePrescription(sphere_d=1.0), EyePrescription(sphere_d=1.1))
        )


def test_what_is_not_taken_over_is_listed() -> None:
    given_ = resource()
    given_["text"] = {"status": "generated", "div": "<div>invented</div>"}
    given_["lensSpecification"][1] |= {"brand": "invented", "note": [{"text": "invented"}]}
    left = set_aside(given_)
    assert "VisionPrescription.patient" in left
    assert "VisionPrescription.lensSpecification.1.note" in left
    assert "invented" not in " ".join(left).replace("VisionPrescription", "")
    assert set_aside(prescription_to_fhir(read_case(EXAMPLES / "low_24in.json"))) == ()


def lens(**values: Any) -> Callable[[dict[str, Any]], None]:
    """Change elements of the right lens; None takes one away."""

    def damage(given_: dict[str, Any]) -> None:
        for key, value in values.items():
            given_["lensSpecification"][0][key] = value
            if value is None:
                del given_["lensSpecification"][0][key]

    return damage


def top(**values: Any) -> Callable[[dict[str, Any]], None]:
    """Change elements of the resource; None takes one away."""

    def damage(given_: dict[str, Any]) -> None:
        for key, value in values.items():
            given_[key] = value
            if value is None:
                del given_[key]

    return damage


def prism(*entries: Any) -> Callable[[dict[str, Any]], None]:
    return lens(prism=list(entries))


def only(*sides: str) -> Callable[[dict[str, Any]], None]:
    def damage(given_: dict[str, Any]) -> None:
        right, left = given_["lensSpecification"]
        by_side = {"right": right, "left": left}
        given_["lensSpecification"] = [copy.deepcopy(by_side[side]) for side in sides]

    return damage


def coded(code: str) -> dict[str, Any]:
    product = copy.deepcopy(LENS["product"])
    product["coding"][0]["code"] = code
    return product


# (what is wrong, how, what the refusal must say, whether the standard's own model lets it through)
DAMAGED: list[tuple[str, Callable[[dict[str, Any]], None], str, bool]] = [
    ("axis 0", lens(axis=0), "axis: 0 is too low. Allowed: a whole number from 1 to 180", True),
    ("axis 181", lens(axis=181), "axis: 181", True),
    ("axis 360", lens(axis=360), "axis: 360", True),
    ("axis negative", lens(axis=-5), "axis: -5", True),
    ("axis broken", lens(axis=90.5), "axis: 90.5", False),
    ("axis a text", lens(axis="90"), "axis: 90 in quotes cannot be used. Allowed: a number", True),
    ("axis true", lens(axis=True), "axis: True", True),
    ("cylinder without axis", lens(axis=None), "axis: nothing is given. Needed: ", True),
    ("axis without cylinder", lens(cylinder=None), "cylinder: nothing is given. Needed: ", True),
    ("cylinder of a text", lens(cylinder="-0.50"), "cylinder: -0.50 in quotes cannot", True),
    ("cylinder too strong", lens(cylinder=-10.25), "cylinder: -10.25", True),
    (
        "cylinder off the steps",
        lens(cylinder=-0.3),
        "cylinder: -0.3 cannot be used. Allowed: st",
        True,
    ),
    ("sphere missing", lens(sphere=None), "sphere: nothing is given. Needed: ", True),
    ("sphere out of range", lens(sphere=-225), "sphere: -225", True),
    ("sphere just out of range", lens(sphere=30.25), "sphere: 30.25", True),
    ("sphere and cylinder too strong", lens(sphere=-29.75), "cylinder: -0.5", True),
    ("sphere off the steps", lens(sphere=-2.2), "sphere: -2.2", True),
    ("sphere not a number", lens(sphere=math.nan), "sphere: nan cannot be used. Allowed: ", False),
    ("sphere infinite", lens(sphere=math.inf), "sphere: inf cannot be used. Allowed: ", False),
    ("sphere a word", lens(sphere="plano"), "sphere: plano cannot be used. Allowed: ", False),
    ("sphere a list", lens(sphere=[-2.25]), "sphere: this cannot be used. Allowed: ", False),
    ("add negative", lens(add=-2.0), "add: -2 is too low. Allowed: ", True),
    ("add too small", lens(add=0.125), "add: 0.125", True),
    ("add too strong", lens(add=4.25), "add: 4.25", True),
    ("add off the steps", lens(add=2.1), "add: 2.1", True),
    ("add true", lens(add=True), "add: True", False),
    ("eye both", lens(eye="both"), "eye: both cannot be used. Allowed: right or left", True),
    ("eye OD", lens(eye="OD"), "eye: OD cannot be used. Allowed: ", True),
    ("eye written large", lens(eye="Right"), "eye: Right cannot be used. Allowed: ", True),
    ("eye missing", lens(eye=None), "eye: nothing is given. Needed: ", False),
    ("eye a list", lens(eye=["right"]), "eye: this cannot be used. Allowed: ", False),
    ("right eye twice", only("right", "right"), "each eye once", True),
    ("an eye thrice", only("right", "left", "left"), "each eye once", True),
    ("left eye missing", only("right"), "no left eye", True),
    ("no lens", top(lensSpecification=[]), "at least one entry", True),
    ("lenses missing", top(lensSpecification=None), "at least one entry", False),
    ("lens a text", top(lensSpecification=["-2.25"]), "an object", False),
    (
        "base nasal",
        prism({"amount": 1, "base": "nasal"}),
        "base: nasal cannot be used. Allowed: ",
        True,
    ),
    ("base BI", prism({"amount": 1, "base": "BI"}), "base: BI cannot be used. Allowed: ", True),
    ("base missing", prism({"amount": 1}), "base: nothing is given. Needed: ", False),
    ("base a number", prism({"amount": 1, "base": 90}), "base: 90", False),
    ("prism without amount", prism({"base": "up"}), "amount: nothing is given. Needed: ", False),
    (
        "prism of nothing",
        prism({"amount": 0, "base": "up"}),
        "prism.0.amount: 0 is too low. Allowed: ",
        True,
    ),
    (
        "prism negative",
        prism({"amount": -1, "base": "up"}),
        "amount: -1 is too low. Allowed: ",
        True,
    ),
    (
        "prism too strong",
        prism({"amount": 21, "base": "up"}),
        "amount: 21 is too high. Allowed: ",
        True,
    ),
    ("prism a text", prism("1 up"), "amount and base", False),
    ("prism empty", prism(), "prism: this cannot be used. Allowed: ", True),
    (
        "up and down at once",
        prism({"amount": 1, "base": "up"}, {"amount": 1, "base": "down"}),
        "at most one prism up or down",
        True,
    ),
    (
        "draft",
        top(status="draft"),
        "status: draft cannot be used. Allowed: active; it is not",
        True,
    ),
    ("cancelled", top(status="cancelled"), "it was withdrawn", True),
    ("entered in error", top(status="entered-in-error"), "entered in error", True),
    ("status unknown", top(status="final"), "status: final cannot be used. Allowed: ", True),
    ("status missing", top(status=None), "status: nothing is given. Needed: ", False),
    (
        "contact lens by code",
        lens(product=coded("contact")),
        "product: contact cannot be used. Allowed: ",
        True,
    ),
    (
        "contact lens by text",
        lens(product={"text": "Soft CONTACT lens"}),
        "not contact lenses",
        True,
    ),
    ("contact lens in German", lens(product={"text": "Kontaktlinse"}), "not contact lenses", True),
    (
        "reading glasses by text",
        lens(product={"text": "reading glasses near +2.25"}),
        "not one for near glasses alone",
        True,
    ),
    (
        "product unknown",
        lens(product=coded("frame")),
        "coding.code: frame cannot be used. Allowed: ",
        True,
    ),
    ("product missing", lens(product=None), "product: nothing is given. Needed: ", False),
    ("contact lens power", lens(power=-2.25), "belongs to contact lenses", True),
    ("back curve", lens(backCurve=8.6), "belongs to contact lenses", True),
    ("diameter", lens(diameter=14.0), "belongs to contact lenses", True),
    ("wear time", lens(duration={"value": 1}), "belongs to contact lenses", True),
    ("unknown element", lens(vertex=12), "vertex: this cannot be used. Allowed: ", False),
    (
        "modifier on the lens",
        lens(modifierExtension=[{"url": "urn:invented", "valueBoolean": True}]),
        "modifierExtension",
        True,
    ),
    (
        "modifier on the whole",
        top(modifierExtension=[{"url": "urn:invented", "valueBoolean": True}]),
        "modifierExtension",
        True,
    ),
    ("rules of its own", top(implicitRules="urn:invented"), "implicitRules", True),
    (
        "another resource",
        top(resourceType="Patient"),
        "resourceType: Patient cannot be used. Allowed: ",
        False,
    ),
    ("no resource type", top(resourceType=None), "resourceType: nothing is given. Needed: ", True),
    ("patient missing", top(patient=None), "VisionPrescription.patient", False),
    ("prescriber missing", top(prescriber=None), "VisionPrescription.prescriber", False),
    ("no date written", top(dateWritten=None), "VisionPrescription.dateWritten", False),
    ("date of nonsense", top(dateWritten="04.03.2025"), "VisionPrescription.dateWritten", False),
    ("element of nobody", top(invented=1), "VisionPrescription.invented", False),
]


def test_at_least_forty_damaged_resources_stand_in_the_table() -> None:
    assert len({name for name, *_ in DAMAGED}) == len(DAMAGED) >= 40


@pytest.mark.parametrize(
    "text", ["Varifocal with reading addition", "progressive, distance and near", "nearly rimless"]
)
def test_a_product_that_mentions_reading_is_taken_and_listed(text: str) -> None:
    given_ = resource()
    lens(product={"text": text})(given_)
    assert prescription_from_fhir(given_)
    left = set_aside(given_)
    assert any(path.endswith(".product.text") for path in left)


@pytest.mark.parametrize(
    ("damage", "reason", "let_through"),
    [row[1:] for row in DAMAGED],
    ids=[row[0] for row in DAMAGED],
)
def test_a_damaged_resource_is_refused_with_its_reason(
    damage: Callable[[dict[str, Any]], None], reason: str, let_through: bool
) -> None:
    given_ = resource()
    damage(given_)
    with pytest.raises(InputRefusedError) as told:
        prescription_from_fhir(given_)
    assert reason in str(told.value)
    try:
        VisionPrescription.model_validate(given_)
        accepted = True
    except ValidationError:
        accepted = False
    assert accepted == let_through


@pytest.mark.parametrize("nothing", [None, [], "VisionPrescription", 1])
def test_what_is_no_resource_at_all_is_refused(nothing: Any) -> None:
    with pytest.raises(InputRefusedError, match="resourceType"):
        prescription_from_fhir(nothing)


def test_without_the_extra_values_are_checked_and_the_structure_is_said_to_need_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(fhir, "fhir_installed", lambda: False)
    with pytest.raises(FhirExtraMissingError, match=r"levelgaze\[fhir\]"):
        check_structure(resource())
    assert prescription_from_fhir(resource()).left.add_d == 2.0
    damaged = resource()
    damaged["lensSpecification"][0]["axis"] = 0
    with pytest.raises(InputRefusedError, match="axis"):
        prescription_from_fhir(damaged)


def test_a_missing_package_is_noticed(monkeypatch: pytest.MonkeyPatch) -> None:
    assert fhir.fhir_installed()
    monkeypatch.setattr("importlib.util.find_spec", lambda _: None)
    assert not fhir.fhir_installed()
