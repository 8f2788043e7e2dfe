"""A case as a FHIR R5 Bundle: its prescription, and its measures as Observations.

FHIR has no field for a desk, a frame or a day. Each part of the case is one Observation, each
value a component with our own plain name, our own code (the path in the case) and, for a
quantity, its UCUM unit. The label, prices and foreign data are not sent.
"""

from __future__ import annotations

import uuid
from typing import TYPE_CHECKING, Any, get_args

from pydantic import BaseModel

from engine.case import Activity, Case, Fit, MeasuredRange, PresentPair, Target, Wearer
from engine.case_input import build_case
from engine.errors import InputRefusedError
from engine.exchange_fhir import (
    EYES,
    absent,
    check_structure,
    fhir_installed,
    prescription_from_fhir,
    prescription_to_fhir,
)
from engine.exchange_json import case_content

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from pydantic.fields import FieldInfo

CODE_SYSTEM = "urn:x-levelgaze:case:1"
"""Our own codes; the number is the schema of the case."""
UCUM = "http://unitsofmeasure.org"
UCUM_CODES = {
    "D": "[diop]",
    "mm": "mm",
    "cm": "cm",
    "in": "[in_i]",
    "deg": "deg",
    "arcmin": "'",
    "years": "a",
    "h": "h",
    "ratio": "1",
}
"""Unified Code for Units of Measure, by the unit names of the case."""
_PARTS: dict[str, tuple[type[BaseModel], str]] = {
    "wearer": (Wearer, "wearer beside the prescription"),
    "fit": (Fit, "how the frame sits"),
    "present_pair": (PresentPair, "pair worn today"),
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
    """A case as a FHIR Bundle of type collection; case_from_bundle gives it back.

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
    """The case in a Bundle that this program wrote.

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
            raise InputRefusedError(field=f"Bundle.{part}", value="nothing", allowed=allowed)
    for side in EYES:
        case["wearer"][side] = getattr(prescription, side).model_dump(mode="json")
    if fhir_installed():
        check_structure(content)
    return build_case(_lists(case, "case"))


def prescription_in_bundle(content: Mapping[str, Any]) -> dict[str, Any]:
    """The one VisionPrescription of a Bundle, as a resource.

    Raises
        InputRefusedError: not a Bundle, or none or several in it.
    """
    return _prescription_in(_resources(content))


def holds_measures(content: Mapping[str, Any]) -> bool:
    """True for a Bundle with Observations of this program."""
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
    """Every single value with its path: looks/0/share, 0.75."""
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
    """The field a path leads to, through lists and inner models."""
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
        raise _refusal("resourceType", "no Bundle", "Bundle")
    if content.get("type") not in ("collection", "searchset", "document"):
        allowed = "collection, searchset or document"
        raise _refusal("Bundle.type", content.get("type"), allowed)
    entries = content.get("entry")
    if not isinstance(entries, list) or not entries:
        raise _refusal("Bundle.entry", entries, "at least one entry")
    found = []
    for number, entry in enumerate(entries):
        resource = entry.get("resource") if isinstance(entry, dict) else None
        if not isinstance(resource, dict):
            raise _refusal(f"Bundle.entry.{number}.resource", resource, "a resource")
        found.append(resource)
    return found


def _prescription_in(resources: list[dict[str, Any]]) -> dict[str, Any]:
    found = [one for one in resources if one.get("resourceType") == "VisionPrescription"]
    if len(found) != 1:
        count = "none" if not found else f"{len(found)} of them"
        raise _refusal("Bundle.VisionPrescription", count, "exactly one")
    return found[0]


def _parts_in(resources: list[dict[str, Any]]) -> Iterator[tuple[str, dict[str, Any]]]:
    """Our own Observations: the part of the case and its values by path."""
    seen: set[str] = set()
    for resource in resources:
        part = _own_code(resource.get("code"))
        if resource.get("resourceType") != "Observation" or part is None:
            continue
        path = f"Observation {part}"
        if part.split("/")[0] not in (*_PARTS, _ORIGIN):
            raise _refusal(path, part, "a part of the case of this version")
        if part in seen:
            raise _refusal(path, "twice", "each part once")
        if resource.get("status") not in _FINAL or "modifierExtension" in resource:
            raise _refusal(f"{path}.status", resource.get("status"), ", ".join(_FINAL))
        seen.add(part)
        yield part, _values_in(resource, part, path)


def _values_in(resource: dict[str, Any], part: str, path: str) -> dict[str, Any]:
    components = resource.get("component")
    if not isinstance(components, list) or not components:
        raise _refusal(f"{path}.component", components, "at least one component")
    found: dict[str, Any] = {}
    for number, component in enumerate(components):
        code = _own_code(component.get("code")) if isinstance(component, dict) else None
        if code is None or code in found:
            allowed = "a code of this program, once"
            raise _refusal(f"{path}.component.{number}.code", code, allowed)
        found[code] = _value_in(component, part, f"{path}.{code}")
    return found


def _value_in(component: dict[str, Any], part: str, path: str) -> Any:
    given = [key for key in component if key.startswith("value")]
    if len(given) != 1 or given[0] not in ("valueQuantity", "valueString", "valueBoolean"):
        allowed = "one of valueQuantity, valueString, valueBoolean"
        raise _refusal(path, ", ".join(given) or None, allowed)
    value = component[given[0]]
    if given[0] != "valueQuantity":
        return value
    if not isinstance(value, dict) or "comparator" in value:
        raise _refusal(path, value, "a plain quantity")
    model = _PARTS[part.split("/")[0]][0] if part != _ORIGIN else Wearer
    unit = UCUM_CODES[_unit(_field(model, path.removeprefix(f"Observation {part}.")))]
    if (value.get("system"), value.get("code")) != (UCUM, unit):
        raise _refusal(path, value.get("code"), f"the UCUM unit {unit}")
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
                raise _refusal(f"Observation {part}.{path}", step, "a path of the case")
        if steps[-1] in here:
            raise _refusal(f"Observation {part}.{path}", "twice", "each value once")
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
        raise _refusal(path, ", ".join(list(inner)[:9]), "places counted from 0 without a gap")
    return [inner[place] for place in places]


def _refusal(field: str, value: Any, allowed: str) -> InputRefusedError:
    shown = "nothing" if value is None else value
    return InputRefusedError(field=field, value=shown, allowed=allowed)
