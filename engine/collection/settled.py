"""Say which causes of a complaint the readings of the finished pair have settled already.

What was read is no guess: a line that failed shows its cause, and lines that all passed rule out
the faults that would have failed them. A cause that no reading can settle stays open.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from engine.collection.as_worn import WITHIN_MM
from engine.lenses.kinds import KINDS

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from engine.collection.as_worn import CrossError
    from engine.collection.verify import Check, Verification

SCREEN_POWER = ("screen_power_too_strong", "screen_power_too_weak")
ONE_EYE = ("sphere", "cylinder", "axis", "height", "verification_power")
SIDEWAYS = ("centration", "centration_pair", "prism_horizontal")
PRISM = ("prism_vertical", "prism_horizontal")
_ROUNDING = 1e-9


@dataclass(frozen=True)
class Settled:
    """Causes by id: those a reading shows, and those the readings rule out, each with why."""

    shown: Mapping[str, str] = field(default_factory=dict)
    ruled_out: Mapping[str, str] = field(default_factory=dict)


def settled_by(
    verification: Verification,
    *,
    kind: str,
    covers_distance: bool,
    crosses: tuple[CrossError, CrossError] | None,
) -> Settled:
    """Return what the readings of a pair of this kind settle.

    covers_distance: whether it has a distance part; without one its power is a screen power.
    crosses: right and left fitting cross before the pupils, in mm; None where not looked at.
    """
    checks = verification.checks
    shown: dict[str, str] = {}
    ruled_out: dict[str, str] = {}
    alike = _fails_alike(checks)
    of_one = [one for one in checks if not (alike and one.quantity == "sphere")]
    _put(shown, "one_eye_power", _failed(of_one, ONE_EYE, sides=("right", "left")))
    _put(shown, "cylinder_off", _failed(checks, ("cylinder", "axis")))
    _put(shown, "pd_error", _failed(checks, SIDEWAYS))
    _put(shown, "prism_missing", _failed(checks, PRISM))
    for cause, plus in (("add_too_strong", True), ("add_too_weak", False)):
        _put(shown, cause, _failed(checks, ("add",), plus=plus))
    causes = ("base_too_plus", "base_too_minus") if covers_distance else SCREEN_POWER
    if alike or not covers_distance:
        for cause, plus in zip(causes, (True, False), strict=True):
            _put(shown, cause, _failed(checks, ("sphere",), plus=plus))
    if _all_passed(checks, ONE_EYE):
        read = [_WORDS[one.quantity] for one in checks if one.quantity in ONE_EYE]
        judged = [_WORDS[name] for name in ONE_EYE if _all_passed(checks, (name,))]
        said = ", ".join(word for word in dict.fromkeys(read) if word in judged)
        ruled_out["one_eye_power"] = f"{said} passed in both eyes"
    if _all_passed(checks, PRISM) and KINDS[kind].is_single_vision:
        ruled_out["prism_missing"] = "prism passed, and it is the same all over this lens"
    if crosses is not None:
        _crosses(crosses, checks, shown, ruled_out)
    return Settled(shown, {name: why for name, why in ruled_out.items() if name not in shown})


def _fails_alike(checks: Sequence[Check]) -> bool:
    """Tell whether the power failed in both eyes and the same way: that is of no one eye."""
    failed = [one for one in checks if one.quantity == "sphere" and one.outcome == "fail"]
    ways = {(one.difference or 0.0) > 0 for one in failed}
    return {one.side for one in failed} == {"right", "left"} and len(ways) == 1


def _put(into: dict[str, str], cause: str, why: str) -> None:
    if why:
        into[cause] = why


def _failed(
    checks: Sequence[Check],
    quantities: tuple[str, ...],
    *,
    sides: tuple[str, ...] = ("right", "left", "both"),
    plus: bool | None = None,
) -> str:
    """Say the failed lines in words, of one sign where `plus` says which."""
    found = [
        one
        for one in checks
        if one.quantity in quantities and one.side in sides and one.outcome == "fail"
        if plus is None or ((one.difference or 0.0) > 0) == plus
    ]
    side = {"right": "right ", "left": "left ", "both": ""}
    return "; ".join(f"{side[one.side]}{_WORDS[one.quantity]} {one.says}" for one in found)


_WORDS = {
    "sphere": "power",
    "cylinder": "cylinder",
    "axis": "axis",
    "add": "add",
    "height": "height",
    "centration": "centration",
    "centration_pair": "centration of the pair",
    "prism_vertical": "vertical prism",
    "prism_horizontal": "horizontal prism",
    "verification_power": "verification power",
}


def _all_passed(checks: Sequence[Check], quantities: tuple[str, ...]) -> bool:
    """Tell whether some lines of these were judged and every one of them passed."""
    judged = [
        one.outcome for one in checks if one.quantity in quantities and one.outcome != "not_judged"
    ]
    return bool(judged) and set(judged) == {"pass"}


def _crosses(
    crosses: tuple[CrossError, CrossError],
    checks: Sequence[Check],
    shown: dict[str, str],
    ruled_out: dict[str, str],
) -> None:
    below = [one.below_mm for one in crosses]
    low, high = max(below), -min(below)
    if low > WITHIN_MM + _ROUNDING:
        shown["fitted_low"] = f"a fitting cross is {low:g} mm below its pupil"
    else:
        ruled_out["fitted_low"] = "neither fitting cross is too low"
    if high > WITHIN_MM + _ROUNDING:
        shown["fitted_high"] = f"a fitting cross is {high:g} mm above its pupil"
    else:
        ruled_out["fitted_high"] = "neither fitting cross is too high"
    aside = max(abs(one.right_mm) for one in crosses)
    if aside > WITHIN_MM + _ROUNDING:
        shown.setdefault("pd_error", f"a fitting cross is {aside:g} mm beside its pupil")
    elif _all_passed(checks, SIDEWAYS):
        ruled_out["pd_error"] = (
            "centres passed, and both fitting crosses are in front of the pupils"
        )
