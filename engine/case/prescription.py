"""What a pair of eyes needs: the prescription, its two cylinder forms, its power in a meridian.

Powers are dioptres at the lens plane. An axis is degrees in the standard notation, seen by someone
who faces the wearer: 1 to 180, counter-clockwise from the side of the wearer's left hand. The
limits of every value stand in the fields below and nowhere else.
"""

from __future__ import annotations

from math import radians, sin, trunc
from typing import Annotated, Any, Literal, Self

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    model_validator,
)
from pydantic_core import PydanticCustomError

from engine.errors import Limits
from engine.units import signed_power

Base = Literal["up", "down", "in", "out"]
CylinderForm = Literal["minus", "plus"]
LARGEST_MERIDIAN_POWER_D = 30.0
SMALLEST_ADD_D, LARGEST_ADD_D = 0.25, 4.0
ADD_LIMITS = Limits(SMALLEST_ADD_D, LARGEST_ADD_D, unit="D")
ADD_RULE = f"{ADD_LIMITS.words}, or 0 where none is needed"


def _whole(value: Any) -> Any:
    """Return a whole number for 180.0, which JSON may hold."""
    return int(value) if isinstance(value, float) and value.is_integer() else value


def _unsigned_zero(value: float) -> float:
    return value + 0.0


Power = Annotated[float, AfterValidator(_unsigned_zero)]


def wrong(
    field: str, value: Any, allowed: str, *, limits: Limits | None = None
) -> PydanticCustomError:
    """Return a rule between fields of a model, told under the field that breaks it."""
    context = {"field": field, "value": value, "allowed": allowed, "limits": limits}
    return PydanticCustomError("between_fields", "{allowed}", context)


class _Frozen(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


def is_an_add(add_d: float) -> bool:
    """Tell whether a power in D, not negative, can be prescribed as an add: see ADD_RULE."""
    return add_d == 0.0 or add_d >= SMALLEST_ADD_D


class Prism(_Frozen):
    """A prescribed prism: how much, and where its base points."""

    amount_pd: float = Field(
        strict=True,
        gt=0.0,
        le=20.0,
        title="Prism",
        description="Prescribed prism, in prism dioptres",
        json_schema_extra={"unit": "prism dioptre"},
    )
    base: Base = Field(
        title="Base",
        description="Where the thick edge of the prism points: up, down, in (to the nose) or out",
    )


class EyePrescription(_Frozen):
    """The prescription of one eye, in either cylinder form.

    >>> EyePrescription(sphere_d=-2.25, cylinder_d=-0.5, axis_deg=180).spherical_equivalent_d
    -2.5
    """

    sphere_d: Power = Field(
        strict=True,
        ge=-LARGEST_MERIDIAN_POWER_D,
        le=LARGEST_MERIDIAN_POWER_D,
        title="Sphere",
        description="Power along the axis of the cylinder; minus for a short-sighted eye",
        json_schema_extra={"unit": "D"},
    )
    cylinder_d: Power = Field(
        default=0.0,
        strict=True,
        ge=-10.0,
        le=10.0,
        title="Cylinder",
        description="Power added across the axis, in either form; 0 where there is none",
        json_schema_extra={"unit": "D"},
    )
    axis_deg: Annotated[int, BeforeValidator(_whole)] = Field(
        default=180,
        strict=True,
        ge=1,
        le=180,
        title="Axis",
        description="Direction of the axis of the cylinder; without effect where there is none",
        json_schema_extra={"unit": "deg"},
    )
    add_d: float | None = Field(
        default=None,
        strict=True,
        ge=0.0,
        le=LARGEST_ADD_D,
        title="Add",
        description="Power added for near; 0 where the prescriber wrote that none is needed; left"
        " out where none is written",
        json_schema_extra={"unit": "D"},
    )
    prism: tuple[Prism, ...] = Field(
        default=(),
        title="Prism",
        description="Prescribed prism: none, one, or one upright and one sideways",
    )

    @model_validator(mode="after")
    def _check_second_meridian_add_and_prism(self) -> Self:
        if abs(self.sphere_d + self.cylinder_d) > LARGEST_MERIDIAN_POWER_D:
            limit = f"with the sphere at most {LARGEST_MERIDIAN_POWER_D:g} D in size"
            raise wrong("cylinder_d", self.cylinder_d, limit)
        if self.add_d is not None and not is_an_add(self.add_d):
            raise wrong("add_d", self.add_d, ADD_RULE, limits=ADD_LIMITS)
        upright = [prism.base in ("up", "down") for prism in self.prism]
        if len(upright) != len(set(upright)):
            bases = " and ".join(prism.base for prism in self.prism)
            raise wrong("prism", bases, "at most one prism up or down and one in or out")
        return self

    @property
    def spherical_equivalent_d(self) -> float:
        """The sphere plus half the cylinder, in D."""
        return self.sphere_d + self.cylinder_d / 2

    @property
    def vertical_power_d(self) -> float:
        """The power in the upright (90 degree) meridian, in D."""
        return meridian_power_d(self, meridian_deg=90.0)


class Prescription(_Frozen):
    """The prescription of both eyes."""

    right: EyePrescription = Field(title="Right eye")
    left: EyePrescription = Field(title="Left eye")


def smaller_add_d(right: EyePrescription, left: EyePrescription) -> float | None:
    """Return the add the one computed eye has: the smaller of the two; None where neither has one.

    >>> smaller_add_d(EyePrescription(sphere_d=0.0, add_d=2.0), EyePrescription(sphere_d=0.0))
    2.0
    """
    return min((eye.add_d for eye in (right, left) if eye.add_d is not None), default=None)


def meridian_power_d(eye: EyePrescription, *, meridian_deg: float) -> float:
    """Return power in one meridian: S + C sin^2(meridian - axis).

    Parameters
        meridian_deg: [deg], same notation as the axis; 90 is upright.

    Notes
        The sine-squared rule gives the curvature of a spherocylinder along a meridian, and is
        exact for thin lenses. Across an oblique cylinder light is also bent sideways, which
        this number leaves out.

    >>> eye = EyePrescription(sphere_d=-2.0, cylinder_d=-1.0, axis_deg=180)
    >>> meridian_power_d(eye, meridian_deg=90.0)
    -3.0
    """
    return eye.sphere_d + eye.cylinder_d * sin(radians(meridian_deg - eye.axis_deg)) ** 2


def transposed(eye: EyePrescription) -> EyePrescription:
    """Return the same lens in the other cylinder form; a sphere stays as it is.

    >>> format_eye(transposed(EyePrescription(sphere_d=1.0, cylinder_d=-0.5, axis_deg=10)),
    ...            form="plus")
    '+0.50 +0.50 x 100'
    """
    if eye.cylinder_d == 0.0:
        return eye
    axis_deg = eye.axis_deg + 90 if eye.axis_deg <= 90 else eye.axis_deg - 90
    # Not validated again: both meridians are inside the limits already, and the residue of
    # binary addition must not push the limit itself out.
    return eye.model_copy(
        update={
            "sphere_d": eye.sphere_d + eye.cylinder_d,
            "cylinder_d": -eye.cylinder_d,
            "axis_deg": axis_deg,
        }
    )


def minus_cylinder(eye: EyePrescription) -> EyePrescription:
    """Return the eye with its cylinder written minus.

    >>> minus_cylinder(EyePrescription(sphere_d=0.5, cylinder_d=0.5, axis_deg=100)).axis_deg
    10
    """
    return transposed(eye) if eye.cylinder_d > 0.0 else eye


def plus_cylinder(eye: EyePrescription) -> EyePrescription:
    """Return the eye with its cylinder written plus.

    >>> plus_cylinder(EyePrescription(sphere_d=1.0, cylinder_d=-0.5, axis_deg=10)).sphere_d
    0.5
    """
    return transposed(eye) if eye.cylinder_d < 0.0 else eye


def format_eye(eye: EyePrescription, *, form: CylinderForm = "minus") -> str:
    """Return one eye as an order writes it: signs, two decimals, three-digit axis, prism, add.

    An exact odd eighth is cut, not rounded (2.125 reads 2.12, 2.375 reads 2.37), as orders do
    (common practice, no source).

    >>> format_eye(EyePrescription(sphere_d=-2.25, cylinder_d=-0.5, axis_deg=5, add_d=2.0))
    '-2.25 -0.50 x 005 add +2.00'
    >>> format_eye(EyePrescription(sphere_d=0.0, prism=(Prism(amount_pd=1.5, base="in"),)))
    '+0.00 DS prism 1.50 base in'
    """
    eye = minus_cylinder(eye) if form == "minus" else plus_cylinder(eye)
    words = [_written(eye.sphere_d)]
    if _written(eye.cylinder_d) == _written(0.0):
        words.append("DS")
    else:
        words.append(f"{_written(eye.cylinder_d)} x {eye.axis_deg:03d}")
    prisms = [f"{_written(prism.amount_pd)[1:]} base {prism.base}" for prism in eye.prism]
    if prisms:
        words.append(f"prism {' and '.join(prisms)}")
    if eye.add_d is not None:
        words.append(f"add {_written(eye.add_d)}")
    return " ".join(words)


def _written(power_d: float) -> str:
    """Return a power with its sign and two decimals, an odd eighth cut."""
    is_eighth = (power_d * 8).is_integer()
    return signed_power(trunc(power_d * 100) / 100 if is_eighth else round(power_d, 2))
