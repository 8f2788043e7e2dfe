"""What is read from a finished pair and what each comparison comes to, as frozen models."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from engine.prescription import EyePrescription, minus_cylinder
from engine.tolerances import Standard

Outcome = Literal["pass", "fail", "not_judged", "not_measured", "ask_laboratory"]


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class EyeReading(_Part):
    """What is read from one finished lens; None where it was not read.

    power: at the point the order checks; prism there, base up and base in positive.
    """

    power: EyePrescription | None = None
    add_d: float | None = Field(None, ge=0, le=5)
    prism_up_pd: float | None = Field(None, ge=-20, le=20)
    prism_in_pd: float | None = Field(None, ge=-20, le=20)
    centration_mm: float | None = Field(None, ge=15, le=45)
    height_mm: float | None = Field(None, ge=3, le=50)


class Readings(_Part):
    """Both lenses."""

    right: EyeReading = EyeReading()
    left: EyeReading = EyeReading()


class Check(_Part):
    """One comparison.

    difference is read minus ordered. from_memory marks a limit that was not read in a standard.
    """

    quantity: str
    side: Literal["right", "left", "both"]
    ordered: str
    read: str
    difference: float | None
    limit: float | None
    unit: str
    outcome: Outcome
    says: str
    standing: str = ""
    source: str = ""
    from_memory: bool = False


class Verification(_Part):
    """All comparisons, and what they come to."""

    standard: Standard
    checks: tuple[Check, ...]

    @property
    def outcome(self) -> Literal["accept", "reject", "incomplete"]:
        """Reject if any fails; accept only if all that can be judged were read and pass."""
        found = {check.outcome for check in self.checks}
        if "fail" in found:
            return "reject"
        return "incomplete" if found & {"not_measured", "ask_laboratory"} else "accept"


def power_differences(
    *, ordered: EyePrescription, read: EyePrescription
) -> tuple[float, float, float | None]:
    """Difference in D of the strongest ordered meridian and of the cylinder, and of axis in deg.

    Read minus ordered, in minus form. A lens ordered without cylinder is judged by whichever read
    meridian is farther off. The axis difference is None where either has no cylinder.

    >>> one = EyePrescription(sphere_d=-2.0, cylinder_d=-1.0, axis_deg=180)
    >>> other = EyePrescription(sphere_d=-3.0, cylinder_d=1.0, axis_deg=90)
    >>> power_differences(ordered=one, read=other)
    (0.0, 0.0, 0.0)
    """
    want, got = minus_cylinder(ordered), minus_cylinder(read)
    along = got.sphere_d - want.sphere_d
    across = along + got.cylinder_d - want.cylinder_d
    if want.cylinder_d == 0.0:
        meridian = max(along, across, key=abs)
    else:
        strongest_is_sphere = abs(want.sphere_d) >= abs(want.sphere_d + want.cylinder_d)
        meridian = along if strongest_is_sphere else across
    cylinder = abs(got.cylinder_d) - abs(want.cylinder_d)
    if want.cylinder_d == 0.0 or got.cylinder_d == 0.0:
        return meridian, cylinder, None
    turn = (got.axis_deg - want.axis_deg + 90) % 180 - 90
    return meridian, cylinder, float(turn)
