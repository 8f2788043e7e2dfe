"""Write and read a case in HL7 FHIR R5: a VisionPrescription, or a Bundle with Observations.

FHIR's own model lets through what no lens can be made from: an axis of 0 or 400, a cylinder
without an axis, an eye called both, a power of 900. Those are refused here, with the path of the
element and the reason. The structure itself is checked by fhir.resources where it is installed
(the extra "fhir").

FHIR has no field for a desk, a frame or a day. In a Bundle each part of the case is one
Observation, each value a component with our own plain name, our own code (the path in the case)
and, for a quantity, its UCUM unit. The label, prices and foreign data are not sent.
"""

from __future__ import annotations

import importlib.util
import math
import re
import uuid
from decimal import Decimal
from typing import TYPE_CHECKING, Any, NoReturn, get_args

from pydantic import BaseModel, ValidationError

from engine.case.model import Activity, Case, Fit, MeasuredRange, OwnedPair, Target, Wearer
from engine.case.prescription import EyePrescription, Prescription, Prism
from engine.case.read import build_case, limits_of
from engine.errors import InputRefusedError, LevelgazeError, Limits
from engine.files.case_json import case_content
from engine.wording import say

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from pydantic.fields import FieldInfo


EYES = ("right", "left")
BASES = ("up", "down", "in", "out")
PRODUCT_SYSTEM = "http://terminology.hl7.org/CodeSystem/ex-visionprescriptionproduct"
ABSENT_REASON = "http://hl7.org/fhir/StructureDefinition/data-absent-reason"
STEP_D = 0.125
STEP_RESIDUE_D = 0.005
"""An eighth is written 2.12, 2.13 or 2.125."""
_RESOURCE = "VisionPrescription"
_POWERS = {"sphere": "sphere_d", "cylinder": "cylinder_d", "axis": "axis_deg", "add": "add_d"}
_OF_CONTACT_LENSES = ("power", "backCurve", "diameter", "duration")
_SET_ASIDE = ("brand", "color", "note", "extension", "id")
_NOT_ACTIVE = {
    "cancelled": "it was withdrawn",
    "draft": "it is not authorised yet",
    "entered-in-error": "it was entered in error",
}


class FhirExtraMissingError(LevelgazeError):
    """The library that checks the structure of FHIR resources is not installed."""

    def __init__(self) -> None:
        super().__init__(say("fhir_extra_missing"))


def absent() -> dict[str, Any]:
    """Return an element that the standard requires and that was never asked for."""
    return {"extension": [{"url": ABSENT_REASON, "valueCode": "not-asked"}]}


def prescription_to_fhir(case: Case) -> dict[str, Any]:
    """Return the prescription of a case as a VisionPrescription: right eye, then left.

    Who it is for, who wrote it and when are placeholders (data-absent-reason "not-asked").

    Raises
        InputRefusedError: a power is not a multiple of an eighth of a dioptre.
    """
    lenses = [_lens_out(getattr(case.wearer, side), side) for side in EYES]
    return {
        "resourceType": _RESOURCE,
        "status": "active",
        "_created": absent(),
        "patient": absent(),
        "encounter": absent(),
        "_dateWritten": absent(),
        "prescriber": absent(),
        "lensSpecification": lenses,
    }


def _lens_out(eye: EyePrescription, side: str) -> dict[str, Any]:
    coding = {"system": PRODUCT_SYSTEM, "code": "lens"}
    lens: dict[str, Any] = {"product": {"coding": [coding]}, "eye": side, "sphere": eye.sphere_d}
    if eye.cylinder_d or eye.axis_deg != EyePrescription.model_fields["axis_deg"].default:
        lens |= {"cylinder": eye.cylinder_d, "axis": eye.axis_deg}
    if eye.prism:
        lens["prism"] = [{"amount": one.amount_pd, "base": one.base} for one in eye.prism]
    if eye.add_d is not None:
        lens["add"] = eye.add_d
    for name in ("sphere", "cylinder", "add"):
        _check_step(lens.get(name, 0.0), f"wearer.{side}.{name}_d")
    return lens


def prescription_from_fhir(resource: Mapping[str, Any]) -> Prescription:
    """Give the prescription in a VisionPrescription, or a refusal with the element and the reason.

    Names, dates, brands and notes are not taken over; set_aside() lists what was left.

    Raises
        InputRefusedError: the resource is damaged, not active, not of spectacle lenses, or asks
            for what this program refuses.
    """
    _check_frame(resource)
    found: dict[str, EyePrescription] = {}
    for index, lens in enumerate(_list(resource, "lensSpecification", _RESOURCE)):
        path = f"{_RESOURCE}.lensSpecification.{index}"
        side = _eye_side(lens, path)
        if side in found:
            _refuse(f"{path}.eye", side, "each eye once")
        found[side] = _lens_in(lens, path)
    for side in EYES:
        if side not in found:
            _refuse(f"{_RESOURCE}.lensSpecification", f"no {side} eye", "one right and one left")
    if fhir_installed():
        check_structure(resource)
    return Prescription(right=found["right"], left=found["left"])


def fhir_installed() -> bool:
    """Tell whether fhir.resources is installed, so that the structure is checked too."""
    return importlib.util.find_spec("fhir") is not None and (
        importlib.util.find_spec("fhir.resources") is not None
    )


def check_structure(resource: Mapping[str, Any]) -> None:
    """Check a VisionPrescription or a Bundle against the FHIR R5 model.

    Raises
        FhirExtraMissingError: fhir.resources is not installed.
        InputRefusedError: the structure is not that of R5.
    """
    if not fhir_installed():
        raise FhirExtraMissingError
    from fhir.resources import get_fhir_model_class

    kind = str(resource.get("resourceType"))
    try:
        get_fhir_model_class(kind).model_validate(dict(resource))
    except ValidationError as error:
        found = error.errors(include_url=False)[0]
        path = ".".join(str(part) for part in (kind, *found["loc"]))
        _refuse(path, found.get("input"), f"what FHIR R5 allows here ({found['msg']})")
    except (AttributeError, LookupError, TypeError, ValueError, RecursionError):
        # fhir.resources fails in ways of its own where an element is of another kind
        _refuse(kind, "an element of another kind", "a resource of FHIR R5")


def set_aside(resource: Mapping[str, Any]) -> tuple[str, ...]:
    """Return the paths of what a VisionPrescription holds beyond the powers and is not taken over.

    >>> set_aside({"resourceType": "VisionPrescription", "lensSpecification": [{"brand": "x"}]})
    ('VisionPrescription.lensSpecification.0.brand',)
    """
    used = {"resourceType", "status", "lensSpecification"}
    given = [key for key, value in resource.items() if key not in used and value != absent()]
    paths = [f"{_RESOURCE}.{key}" for key in given]
    for index, lens in enumerate(resource.get("lensSpecification", ())):
        here = f"{_RESOURCE}.lensSpecification.{index}"
        paths += [f"{here}.{key}" for key in lens if key in _SET_ASIDE or key[:1] == "_"]
        paths += [f"{here}.product.{key}" for key in _said_of_product(lens.get("product"))]
    return tuple(paths)


def _said_of_product(product: Any) -> Iterator[str]:
    """Yield the parts of a product beyond its code: they are not taken over."""
    if not isinstance(product, dict):
        return
    yield from (key for key in product if key != "coding")
    for place, coding in enumerate(product.get("coding") or ()):
        if isinstance(coding, dict) and coding.get("system") != PRODUCT_SYSTEM:
            yield f"coding.{place}"
        elif isinstance(coding, dict):
            yield from (f"coding.{place}.{key}" for key in coding if key not in ("system", "code"))


def _check_frame(resource: Any) -> None:
    if not isinstance(resource, dict) or resource.get("resourceType") != _RESOURCE:
        kind = resource.get("resourceType") if isinstance(resource, dict) else "no object"
        _refuse("resourceType", kind, _RESOURCE)
    _refuse_modifiers(resource, _RESOURCE)
    if "implicitRules" in resource:
        _refuse(f"{_RESOURCE}.implicitRules", "given", "none, as its rules are not known here")
    status = resource.get("status")
    if status != "active":
        reason = _NOT_ACTIVE.get(str(status), "any other status is not known")
        _refuse(f"{_RESOURCE}.status", status, f"active; {reason}")


def _refuse_modifiers(element: Mapping[str, Any], path: str) -> None:
    """Refuse modifier extensions: the standard forbids using an element with an unknown one."""
    if "modifierExtension" in element:
        allowed = "none, since it may change what the values mean"
        _refuse(f"{path}.modifierExtension", "given", allowed)


def _list(element: Mapping[str, Any], key: str, path: str) -> list[Any]:
    found = element.get(key)
    if not isinstance(found, list) or not found:
        _refuse(f"{path}.{key}", found, "a list with at least one entry")
    return found


def _eye_side(lens: Any, path: str) -> str:
    if not isinstance(lens, dict):
        _refuse(path, lens, "an object")
    side = lens.get("eye")
    if not isinstance(side, str) or side not in EYES:
        _refuse(f"{path}.eye", side, "right or left")
    return side


def _lens_in(lens: Mapping[str, Any], path: str) -> EyePrescription:
    _check_product(lens, path)
    _refuse_modifiers(lens, path)
    for name in _OF_CONTACT_LENSES:
        if name in lens:
            _refuse(
                f"{path}.{name}", lens[name], "spectacle lenses; this belongs to contact lenses"
            )
    known = {"product", "eye", "prism", *_POWERS, *_SET_ASIDE}
    for key in lens:
        if key.removeprefix("_") not in known | {"eye"}:
            _refuse(f"{path}.{key}", "given", "an element of FHIR R5")
    numbers = {name: _number(lens[name], f"{path}.{name}") for name in _POWERS if name in lens}
    _check_powers(numbers, lens, path)
    prism = tuple(_prisms(lens, path))
    values = {_POWERS[name]: value for name, value in numbers.items()}
    return _eye(values | {"prism": prism}, path)


def _check_product(lens: Mapping[str, Any], path: str) -> None:
    product = lens.get("product")
    if not isinstance(product, dict):
        _refuse(f"{path}.product", product, "a product, coded lens")
    codings = product.get("coding", [])
    if not isinstance(codings, list) or not all(isinstance(one, dict) for one in codings):
        _refuse(f"{path}.product.coding", codings, "a list of codings")
    words = [product.get("text"), *(one.get(key) for one in codings for key in ("code", "display"))]
    for word in words:
        for part, allowed in _NOT_FOR_DISTANCE.items():
            if isinstance(word, str) and re.search(part, word.casefold()):
                _refuse(f"{path}.product", word[:40], allowed)
    for coding in codings:
        if coding.get("system") == PRODUCT_SYSTEM and coding.get("code") != "lens":
            _refuse(f"{path}.product.coding.code", coding.get("code"), "lens")


_CONTACT = "spectacle lenses, not contact lenses"
_NEAR = "a distance prescription, with its add where there is one; not one for near glasses alone"
_NOT_FOR_DISTANCE = {
    r"\bcontact|\bkontaktlinse": _CONTACT,
    r"\b(lentilles? de contact|lenti a contatto|lentes? de contacto)": _CONTACT,
    r"\b(reading|near) (glasses|spectacles)|\breaders\b|\b(lese|nah)-?brille": _NEAR,
    r"\blunettes de (lecture|pr[eè]s)|\bocchiali da (lettura|vicino)": _NEAR,
    r"\bgafas (de cerca|para leer|de lectura)": _NEAR,
}
"""Names of products that are no distance glasses, in five languages. What only mentions reading,
such as a progressive with its reading addition, is taken."""


def _number(value: Any, path: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float | Decimal):
        _refuse(path, value, "a number")
    try:
        number = float(value)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        _refuse(path, str(value)[:20], "a finite number")
    return number


def _check_powers(numbers: dict[str, float], lens: Mapping[str, Any], path: str) -> None:
    if "sphere" not in numbers:
        _refuse(f"{path}.sphere", None, "a power; 0 where there is none")
    if "axis" in numbers:
        axis = lens["axis"]
        if not isinstance(axis, int) or not 1 <= axis <= 180:
            allowed = "a whole number from 1 to 180; a level axis is written 180"
            _refuse(f"{path}.axis", axis, allowed, limits=Limits(1, 180))
        if "cylinder" not in numbers:
            _refuse(f"{path}.cylinder", None, "a power, since an axis is given; 0 for none")
    elif numbers.get("cylinder"):
        _refuse(f"{path}.axis", None, "1 to 180, since a cylinder is given")
    for name in ("sphere", "cylinder", "add"):
        _check_step(numbers.get(name, 0.0), f"{path}.{name}")


def _check_step(power_d: float, path: str) -> None:
    off_d = abs(math.remainder(power_d, STEP_D))
    if off_d > STEP_RESIDUE_D + 1e-9:  # residue of binary fractions
        _refuse(path, power_d, "steps of a quarter or an eighth of a dioptre")


def _prisms(lens: Mapping[str, Any], path: str) -> Iterator[Prism]:
    for index, prism in enumerate(_list(lens, "prism", path) if "prism" in lens else ()):
        here = f"{path}.prism.{index}"
        if not isinstance(prism, dict):
            _refuse(here, prism, "an object with amount and base")
        _refuse_modifiers(prism, here)
        amount_pd = _number(prism.get("amount"), f"{here}.amount")
        base = prism.get("base")
        if not isinstance(base, str) or base not in BASES:
            _refuse(f"{here}.base", base, "up, down, in or out")
        try:
            yield Prism.model_validate({"amount_pd": amount_pd, "base": base})
        except ValidationError:
            limits = limits_of(Prism.model_fields["amount_pd"])
            _refuse(f"{here}.amount", amount_pd, limits.words, limits=limits)


def _eye(values: dict[str, Any], path: str) -> EyePrescription:
    try:
        return EyePrescription.model_validate(values)
    except ValidationError as error:
        found = error.errors(include_url=False)[0]
        if found["type"] == "between_fields":
            name = found["ctx"]["field"]
            value, allowed = found["ctx"]["value"], found["ctx"]["allowed"]
            limits = found["ctx"]["limits"]
        else:
            name = str(found["loc"][0])
            value, limits = found["input"], limits_of(EyePrescription.model_fields[name])
            allowed = limits.words
        back = {ours: theirs for theirs, ours in _POWERS.items()}
        _refuse(f"{path}.{back.get(name, name)}", value, allowed, limits=limits)


def _refuse(field: str, value: Any, allowed: str, *, limits: Limits | None = None) -> NoReturn:
    shown = "nothing" if value is None else value
    raise InputRefusedError(field=field, value=shown, allowed=allowed, limits=limits) from None


CODE_SYSTEM = "urn:x-levelgaze:case:1"
"""Our own codes; the number is the schema of the case."""
UCUM = "http://unitsofmeasure.org"
UCUM_CODES = {
    "D": "[diop]",
    "mm": "mm",
    "cm": "cm",
    "in": "[in_i]",
    "m": "m",
    "deg": "deg",
    "prism dioptre": "[p'diop]",
    "arcmin": "'",
    "years": "a",
    "h": "h",
    "ratio": "1",
}
"""Unified Code for Units of Measure, by the unit names of the case."""
_PARTS: dict[str, tuple[type[BaseModel], str]] = {
    "wearer": (Wearer, "wearer beside the prescription"),
    "fit": (Fit, "how the frame sits"),
    "owned_pairs": (OwnedPair, "pair owned, the one worn at the desk first"),
    "present_pair": (OwnedPair, "pair worn today, in a bundle of an earlier version"),
    "targets": (Target, "thing looked at"),
    "activities": (Activity, "part of the day"),
    "measured_ranges": (MeasuredRange, "clear distances taped through an added power"),
}
_ORIGIN = "origin"
_ORIGIN_TITLE = "where each value comes from"
_NOT_SENT = ("label", "prices", "extensions", "schema")
_FINAL = ("final", "amended", "corrected")
_LONGEST_LIST = 64


def bundle(case: Case) -> dict[str, Any]:
    """Return a case as a FHIR Bundle of type collection; case_from_bundle gives it back.

    Raises
        InputRefusedError: a power is not a multiple of an eighth of a dioptre.
    """
    content, digest = case_content(case), case.digest()
    resources = [prescription_to_fhir(case), *_observations(content)]
    entries = [
        {"fullUrl": uuid.uuid5(uuid.NAMESPACE_OID, f"{digest}/{number}").urn, "resource": resource}
        for number, resource in enumerate(resources)
    ]
    return {"resourceType": "Bundle", "type": "collection", "entry": entries}


def case_from_bundle(content: Mapping[str, Any], *, label: str) -> Case:
    """Return the case in a Bundle that this program wrote.

    Parameters
        label: the case's label here; none is sent along.

    Raises
        InputRefusedError: damaged, without a prescription, without the measures, or with a value
            the case refuses.
    """
    resources = _resources(content)
    prescription = prescription_from_fhir(_prescription_in(resources))
    case: dict[str, Any] = {"schema": 1, "label": label}
    for part, values in _parts_in(resources):
        _put(case, part, values)
    for part in ("wearer", "targets", "activities"):
        if part not in case:
            allowed = "the measures of this program; another program's bundle holds none"
            _refuse(f"Bundle.{part}", None, allowed)
    for side in EYES:
        case["wearer"][side] = getattr(prescription, side).model_dump(mode="json")
    if fhir_installed():
        check_structure(content)
    return build_case(_lists(case, "case"))


def prescription_in_bundle(content: Mapping[str, Any]) -> dict[str, Any]:
    """Return the one VisionPrescription of a Bundle, as a resource.

    Raises
        InputRefusedError: not a Bundle, or none or several in it.
    """
    return _prescription_in(_resources(content))


def is_taken(resource: Mapping[str, Any]) -> bool:
    """Tell whether a resource of a Bundle is taken over: the prescription, and our own measures."""
    kind = resource.get("resourceType")
    return kind == _RESOURCE or (kind == "Observation" and bool(_own_code(resource.get("code"))))


def holds_measures(content: Mapping[str, Any]) -> bool:
    """Tell whether a Bundle has Observations of this program."""
    return any(_own_code(one.get("code")) for one in _resources(content))


def _observations(content: dict[str, Any]) -> Iterator[dict[str, Any]]:
    for part, (model, title) in _PARTS.items():
        for code, values in _objects(part, content.get(part)):
            if values:
                components = [_component(model, *leaf) for leaf in _leaves(values)]
                yield _observation(code, title, components)
    sent = {k: v for k, v in content[_ORIGIN].items() if k.split("/")[1] not in _NOT_SENT}
    if sent:
        components = [{**_code(k, "origin"), "valueString": v} for k, v in sent.items()]
        yield _observation(_ORIGIN, _ORIGIN_TITLE, components)


def _objects(part: str, value: Any) -> Iterator[tuple[str, dict[str, Any]]]:
    if part == "wearer":
        yield part, {key: one for key, one in value.items() if key not in EYES}
    elif isinstance(value, list):
        yield from ((f"{part}/{number}", one) for number, one in enumerate(value))
    elif value is not None:
        yield part, value


def _observation(code: str, title: str, components: list[dict[str, Any]]) -> dict[str, Any]:
    return {
        "resourceType": "Observation",
        "status": "final",
        **_code(code, title),
        "subject": absent(),
        "component": components,
    }


def _code(code: str, title: str) -> dict[str, Any]:
    return {"code": {"coding": [{"system": CODE_SYSTEM, "code": code}], "text": title}}


def _leaves(value: Any, at: str = "") -> Iterator[tuple[str, Any]]:
    """Yield every single value with its path: looks/0/share, 0.75."""
    if isinstance(value, dict | list):
        items = value.items() if isinstance(value, dict) else enumerate(value)
        for key, inner in items:
            yield from _leaves(inner, f"{at}/{key}" if at else str(key))
    else:
        yield at, value


def _component(model: type[BaseModel], path: str, value: Any) -> dict[str, Any]:
    info = _field(model, path)
    unit = _unit(info)
    title = (info.title if info else None) or path.split("/")[-1].replace("_", " ")
    if isinstance(value, bool):
        return {**_code(path, title), "valueBoolean": value}
    if isinstance(value, str):
        return {**_code(path, title), "valueString": value}
    quantity = {"value": value, "unit": unit, "system": UCUM, "code": UCUM_CODES[unit]}
    return {**_code(path, title), "valueQuantity": quantity}


def _field(model: type[BaseModel], path: str) -> FieldInfo | None:
    """Return the field a path leads to, through lists and inner models."""
    info = None
    for part in path.split("/"):
        if not part.isdigit():
            info = model.model_fields.get(part)
            inner = _model_in(info.annotation) if info else None
            model = inner or model
    return info


def _model_in(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return next(filter(None, map(_model_in, get_args(annotation))), None)


def _unit(info: FieldInfo | None) -> str:
    extra = info.json_schema_extra if info else None
    return str(extra.get("unit", "ratio")) if isinstance(extra, dict) else "ratio"


def _resources(content: Any) -> list[dict[str, Any]]:
    if not isinstance(content, dict) or content.get("resourceType") != "Bundle":
        _refuse("resourceType", "no Bundle", "Bundle")
    if content.get("type") not in ("collection", "searchset", "document"):
        allowed = "collection, searchset or document"
        _refuse("Bundle.type", content.get("type"), allowed)
    entries = content.get("entry")
    if not isinstance(entries, list) or not entries:
        _refuse("Bundle.entry", entries, "at least one entry")
    found = []
    for number, entry in enumerate(entries):
        resource = entry.get("resource") if isinstance(entry, dict) else None
        if not isinstance(resource, dict):
            _refuse(f"Bundle.entry.{number}.resource", resource, "a resource")
        found.append(resource)
    return found


def _prescription_in(resources: list[dict[str, Any]]) -> dict[str, Any]:
    found = [one for one in resources if one.get("resourceType") == _RESOURCE]
    if len(found) != 1:
        count = "none" if not found else f"{len(found)} of them"
        _refuse("Bundle.VisionPrescription", count, "exactly one")
    return found[0]


def _parts_in(resources: list[dict[str, Any]]) -> Iterator[tuple[str, dict[str, Any]]]:
    """Find our own Observations: the part of the case and its values by path."""
    seen: set[str] = set()
    for resource in resources:
        part = _own_code(resource.get("code"))
        if resource.get("resourceType") != "Observation" or part is None:
            continue
        path = f"Observation {part}"
        if part.split("/")[0] not in (*_PARTS, _ORIGIN):
            _refuse(path, part, "a part of the case of this version")
        if part in seen:
            _refuse(path, "twice", "each part once")
        if resource.get("status") not in _FINAL or "modifierExtension" in resource:
            _refuse(f"{path}.status", resource.get("status"), ", ".join(_FINAL))
        seen.add(part)
        yield part, _values_in(resource, part, path)


def _values_in(resource: dict[str, Any], part: str, path: str) -> dict[str, Any]:
    components = resource.get("component")
    if not isinstance(components, list) or not components:
        _refuse(f"{path}.component", components, "at least one component")
    found: dict[str, Any] = {}
    for number, component in enumerate(components):
        code = _own_code(component.get("code")) if isinstance(component, dict) else None
        if code is None or code in found:
            allowed = "a code of this program, once"
            _refuse(f"{path}.component.{number}.code", code, allowed)
        found[code] = _value_in(component, part, f"{path}.{code}")
    return found


def _value_in(component: dict[str, Any], part: str, path: str) -> Any:
    given = [key for key in component if key.startswith("value")]
    if len(given) != 1 or given[0] not in ("valueQuantity", "valueString", "valueBoolean"):
        allowed = "one of valueQuantity, valueString, valueBoolean"
        _refuse(path, ", ".join(given) or None, allowed)
    value = component[given[0]]
    if given[0] != "valueQuantity":
        return value
    if not isinstance(value, dict) or "comparator" in value:
        _refuse(path, value, "a plain quantity")
    model = _PARTS[part.split("/")[0]][0] if part != _ORIGIN else Wearer
    unit = UCUM_CODES[_unit(_field(model, path.removeprefix(f"Observation {part}.")))]
    if (value.get("system"), value.get("code")) != (UCUM, unit):
        _refuse(path, value.get("code"), f"the UCUM unit {unit}")
    return value.get("value")


def _own_code(concept: Any) -> str | None:
    codings = concept.get("coding") if isinstance(concept, dict) else None
    for coding in codings if isinstance(codings, list) else ():
        if isinstance(coding, dict) and coding.get("system") == CODE_SYSTEM:
            code = coding.get("code")
            return code if isinstance(code, str) and code else None
    return None


def _put(case: dict[str, Any], part: str, values: dict[str, Any]) -> None:
    """Set the values of a part at their paths; list places stay numbers until _lists."""
    if part == _ORIGIN:
        case[_ORIGIN] = dict(values)
        return
    for path, value in values.items():
        here = case
        steps = [*part.split("/"), *path.split("/")]
        for step in steps[:-1]:
            here = here.setdefault(step, {})
            if not isinstance(here, dict):
                _refuse(f"Observation {part}.{path}", step, "a path of the case")
        if steps[-1] in here:
            _refuse(f"Observation {part}.{path}", "twice", "each value once")
        here[steps[-1]] = value


def _lists(value: Any, path: str) -> Any:
    """Turn objects whose keys are places in a list into lists."""
    if not isinstance(value, dict) or path == f"case.{_ORIGIN}":
        return value
    inner = {key: _lists(one, f"{path}.{key}") for key, one in value.items()}
    if not inner or not all(key.isdigit() for key in inner):
        return inner
    places = [str(number) for number in range(len(inner))]
    if set(inner) != set(places) or len(places) > _LONGEST_LIST:
        _refuse(path, ", ".join(list(inner)[:9]), "places counted from 0 without a gap")
    return [inner[place] for place in places]
