"""Take in a file: a case, an exported record, or a prescription or bundle as HL7 FHIR R5.

They are told apart by what a file holds and never by its name.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from engine.case.read import LARGEST_BYTES
from engine.errors import InputRefusedError
from engine.files.case_json import case_from_json, read_object
from engine.files.fhir import (
    case_from_bundle,
    holds_measures,
    is_taken,
    prescription_from_fhir,
    prescription_in_bundle,
    set_aside,
)
from engine.files.output import too_large
from engine.files.store import RECORD_KEY, RECORD_VERSION

if TYPE_CHECKING:
    from engine.case.model import Case
    from engine.case.prescription import Prescription

BUNDLE_LABEL = "opened case"
"""Of a case from FHIR, which carries none."""
Kind = Literal["case", "record", "prescription", "bundle"]


@dataclass(frozen=True)
class Upload:
    """What a file held.

    Attributes:
        kind: of the file.
        case: the whole case; None where the file holds a prescription only.
        prescription: always there.
        result_json: the answer kept with it, as it was kept.
        set_aside: what the file holds beyond that and was not taken over.
    """

    kind: Kind
    case: Case | None
    prescription: Prescription
    result_json: str | None = None
    set_aside: tuple[str, ...] = ()


def read_upload(content: bytes) -> Upload:
    """Read the bytes of a case, an exported record, or a FHIR prescription or bundle.

    Raises
        InputRefusedError: too large, damaged, or of another kind; with the reason.
    """
    if len(content) > LARGEST_BYTES:
        raise too_large(len(content), LARGEST_BYTES, field="file")
    try:
        return _upload(read_object(content), content)
    except RecursionError:
        allowed = "JSON of usual depth"
        raise InputRefusedError(field="file", value="nested too deeply", allowed=allowed) from None


def _upload(found: dict[str, Any], content: bytes) -> Upload:
    if found.get("resourceType") == "Bundle":
        return _from_bundle(found)
    if "resourceType" in found:
        prescription = prescription_from_fhir(found)
        return Upload("prescription", None, prescription, set_aside=set_aside(found))
    if RECORD_KEY in found:
        return _from_record(found)
    case = case_from_json(content)
    return Upload("case", case, case.wearer.prescription)


def _from_bundle(found: dict[str, Any]) -> Upload:
    resource = prescription_in_bundle(found)
    others = [
        f"Bundle.entry.{place}: {one['resource'].get('resourceType')}"
        for place, one in enumerate(found["entry"])
        if not is_taken(one["resource"])
    ]
    if not holds_measures(found):
        prescription = prescription_from_fhir(resource)
        left = (*set_aside(resource), *others)
        return Upload("prescription", None, prescription, set_aside=left)
    case = case_from_bundle(found, label=BUNDLE_LABEL)
    left = (*set_aside(resource), *others)
    return Upload("bundle", case, case.wearer.prescription, set_aside=left)


def _from_record(found: dict[str, Any]) -> Upload:
    """Return the newest revision of an exported record; the earlier ones stay in the file."""
    version, revisions = found[RECORD_KEY], found.get("revisions")
    if version != RECORD_VERSION:
        allowed = f"{RECORD_VERSION}; another version of this program wrote this record"
        raise InputRefusedError(field=RECORD_KEY, value=version, allowed=allowed)
    if not isinstance(revisions, list) or not _all_revisions(revisions):
        allowed = "at least one, each with a case"
        raise InputRefusedError(field="revisions", value=revisions, allowed=allowed)
    newest = max(revisions, key=lambda one: one["revision"])
    case = case_from_json(json.dumps(newest["case"]))
    answer = newest.get("result")
    left = tuple(f"revision {one['revision']}" for one in revisions if one is not newest)
    return Upload("record", case, case.wearer.prescription, _text(answer), left)


def _all_revisions(revisions: Any) -> bool:
    return bool(revisions) and all(
        isinstance(one, dict)
        and isinstance(one.get("revision"), int)
        and isinstance(one.get("case"), dict)
        and isinstance(one.get("result"), dict | None)
        for one in revisions
    )


def _text(answer: dict[str, Any] | None) -> str | None:
    """Return the answer as it was kept, whatever version gave it; version_changes compares it."""
    return None if answer is None else json.dumps(answer, indent=1, ensure_ascii=False)
