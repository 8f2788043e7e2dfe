"""Compare the readings of a finished pair with its order, under the tolerances of a standard.

Powers are compared in minus cylinder form whatever form they were read in. An office lens has one
reference point: it is checked against the power its laboratory states for it, and its power change
is never called passed; the range test does that (mock_desk). The centration and height of single
vision are judged by the prism they make.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from pydantic import Field

from engine.case.model import Part
from engine.case.prescription import EyePrescription, meridian_power_d, minus_cylinder
from engine.collection.tolerances import Limit, Standard, limit_for
from engine.lenses.kinds import KINDS
from engine.order.lens import strongest_meridian_d
from engine.order.types import SIDES
from engine.wording import unit_after

if TYPE_CHECKING:
    from collections.abc import Iterator

    from engine.collection.tolerances import LensClass
    from engine.order.types import EyeOrder, Order


Outcome = Literal["pass", "fail", "not_judged", "not_measured", "ask_laboratory"]


class EyeReading(Part):
    """What is read from one finished lens; None where it was not read.

    power: at the point the order checks; prism there, base up and base in positive.
    """

    power: EyePrescription | None = None
    add_d: float | None = Field(None, ge=0, le=5)
    prism_up_pd: float | None = Field(None, ge=-20, le=20)
    prism_in_pd: float | None = Field(None, ge=-20, le=20)
    centration_mm: float | None = Field(None, ge=15, le=45)
    height_mm: float | None = Field(None, ge=3, le=50)


class Readings(Part):
    """Both lenses."""

    right: EyeReading = EyeReading()
    left: EyeReading = EyeReading()


class Check(Part):
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


class Verification(Part):
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
    """Return how far the strongest meridian and cylinder differ, in D, and the axis, in deg.

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


_ROUNDING = 1e-9


def verify(*, order: Order, readings: Readings, standard: Standard = "ANSI Z80.1") -> Verification:
    """Compare readings with the order."""
    judge = _Judge(order, readings, standard)
    return Verification(standard=standard, checks=tuple(judge.checks()))


def lens_class(kind: str) -> LensClass:
    """Return how a standard sorts a kind of lens."""
    if KINDS[kind].is_progressive:
        return "progressive"
    return "single_or_lined" if KINDS[kind].is_single_vision else "lined"


class _Judge:
    """The comparisons of one order."""

    def __init__(self, order: Order, readings: Readings, standard: Standard) -> None:
        self.order, self.standard = order, standard
        self.pairs = [(order.eye(side), getattr(readings, side)) for side in SIDES]
        self.lens_class = lens_class(order.kind)

    def checks(self) -> Iterator[Check]:
        """Yield every comparison, right before left."""
        for eye, reading in self.pairs:
            yield from self._powers(eye, reading)
        yield from self._prism()
        for eye, reading in self.pairs:
            yield from self._height(eye, reading)
        yield from self._pair("height_pair", self._height_errors())
        yield from self._centration()

    def _limit(self, quantity: str, *, of: float, power_d: float = 0.0) -> Limit | None:
        return limit_for(
            standard=self.standard,
            lens_class=self.lens_class,
            quantity=quantity,
            of=of,
            power_d=power_d,
        )

    def _powers(self, eye: EyeOrder, reading: EyeReading) -> Iterator[Check]:
        ordered = eye.verification
        if ordered is None and KINDS[self.order.kind].height_reference == "laboratory":
            yield _asked(eye.side)
        else:
            ordered = ordered or eye.powers[0].power
            yield from self._one_power(eye.side, ordered, reading)
        if eye.degression_d is not None:
            yield _change_not_verified(eye)
        elif eye.add_d is not None:
            yield self._judged(
                "add",
                eye.side,
                self._limit("add", of=eye.add_d),
                ordered=f"{eye.add_d:+.2f}",
                read=None if reading.add_d is None else f"{reading.add_d:+.2f}",
                difference=None if reading.add_d is None else reading.add_d - eye.add_d,
                unit="D",
            )

    def _one_power(
        self, side: Literal["right", "left"], ordered: EyePrescription, reading: EyeReading
    ) -> Iterator[Check]:
        strongest = strongest_meridian_d(ordered)
        meridian, cylinder, axis = None, None, None
        if reading.power is not None:
            meridian, cylinder, axis = power_differences(ordered=ordered, read=reading.power)
        words, read = _power_parts(ordered), None
        if reading.power is not None:
            read = _power_parts(reading.power)
        of_cylinder = abs(ordered.cylinder_d)
        for quantity, limit, difference, unit in (
            ("sphere", self._limit("sphere", of=strongest), meridian, "D"),
            ("cylinder", self._limit("cylinder", of=of_cylinder, power_d=strongest), cylinder, "D"),
            ("axis", self._limit("axis", of=of_cylinder), axis, "deg"),
        ):
            if quantity == "axis" and (limit is None or (read is not None and axis is None)):
                why = "axis not checked: cylinder under 0.12 D"
                yield _not_judged("axis", side, words["axis"], read["axis"] if read else "", why)
                continue
            yield self._judged(
                quantity,
                side,
                limit,
                ordered=words[quantity],
                read=None if read is None else read[quantity],
                difference=difference,
                unit=unit,
            )

    def _prism(self) -> Iterator[Check]:
        for quantity, along_deg, ways in (
            ("prism_vertical", 90.0, ("up", "down")),
            ("prism_horizontal", 180.0, ("in", "out")),
        ):
            powers = [abs(_power_along(eye, along_deg)) for eye, _ in self.pairs]
            limit = self._prism_limit(quantity, powers)
            ordered = [_ordered_prism(eye, ways) for eye, _ in self.pairs]
            name = "prism_up_pd" if ways[0] == "up" else "prism_in_pd"
            read = [getattr(reading, name) for _, reading in self.pairs]
            sign = -1.0 if ways[0] == "up" else 1.0
            difference = None
            if None not in read:
                difference = (read[0] + sign * read[1]) - (ordered[0] + sign * ordered[1])
            yield self._judged(
                quantity,
                "both",
                limit,
                ordered=f"{ordered[0] + sign * ordered[1]:+.2f}",
                read=None if difference is None else f"{read[0] + sign * read[1]:+.2f}",
                difference=difference,
                unit="pd",
            )

    def _prism_limit(self, quantity: str, powers_d: list[float]) -> Limit | None:
        """Check by the weaker lens, the stricter reading; millimetres turned to prism by P = cF."""
        limit = self._limit(quantity, of=min(powers_d))
        if limit is None or limit.unit == "pd":
            return limit
        over = sum(powers_d) if limit.unit == "mm each" else min(powers_d)
        return Limit(**{**vars(limit), "limit": limit.limit * over / 10.0, "unit": "pd"})

    def _height(self, eye: EyeOrder, reading: EyeReading) -> Iterator[Check]:
        limit = self._limit("height", of=0.0)
        if limit is None:
            return
        if eye.height.mm is None:
            yield _not_judged("height", eye.side, "not on the order", "", eye.height.reference)
            return
        yield self._judged(
            "height",
            eye.side,
            limit,
            ordered=eye.height.says,
            read=reading.height_mm,
            difference=None if reading.height_mm is None else reading.height_mm - eye.height.mm,
            unit="mm",
        )

    def _height_errors(self) -> list[float | None]:
        return [
            None
            if eye.height.mm is None or reading.height_mm is None
            else reading.height_mm - eye.height.mm
            for eye, reading in self.pairs
        ]

    def _pair(self, quantity: str, errors: list[float | None]) -> Iterator[Check]:
        limit = self._limit(quantity, of=0.0)
        if limit is None or errors[0] is None or errors[1] is None:
            return
        yield self._judged(
            quantity,
            "both",
            limit,
            ordered="alike",
            read=f"{errors[0]:+.1f} and {errors[1]:+.1f}",
            difference=errors[0] - errors[1],
            unit="mm",
        )

    def _centration(self) -> Iterator[Check]:
        errors: list[float | None] = []
        for eye, reading in self.pairs:
            wanted = self._ordered_centration(eye)
            error = None
            if wanted is not None and reading.centration_mm is not None:
                error = reading.centration_mm - wanted
            errors.append(error)
            each = self._limit("centration_each", of=0.0)
            if each is not None:
                yield self._judged(
                    "centration",
                    eye.side,
                    each,
                    ordered="" if wanted is None else f"{wanted:.1f}",
                    read=reading.centration_mm,
                    difference=error,
                    unit="mm",
                )
        limit = self._limit("centration_pair", of=0.0)
        if limit is not None:
            both = [error for error in errors if error is not None]
            total = sum(both) if len(both) == len(errors) else None
            yield self._judged(
                "centration_pair",
                "both",
                limit,
                ordered="sum of both segments as ordered",
                read=None if total is None else f"{total:+.1f} off",
                difference=total,
                unit="mm",
            )

    def _ordered_centration(self, eye: EyeOrder) -> float | None:
        """Return where the segments of a lined lens go for near, and any other lens's centre."""
        if self.lens_class == "lined":
            near = [one.mm for one in eye.near_centration if one.zone == "near"]
            return near[0] if near else None
        return eye.centration_mm

    def _judged(
        self,
        quantity: str,
        side: Literal["right", "left", "both"],
        limit: Limit | None,
        *,
        ordered: str,
        read: float | str | None,
        difference: float | None,
        unit: str,
    ) -> Check:
        if limit is None:
            why = f"{self.standard} has no limit for this in our table"
            return _not_judged(quantity, side, ordered, "" if read is None else str(read), why)
        outcome: Outcome = "not_measured"
        if difference is not None:
            outcome = "pass" if abs(difference) <= limit.limit + _ROUNDING else "fail"
        places, after = 0 if unit == "deg" else 2, unit_after(unit)
        off = "not read"
        if difference is not None:
            sign = "+" if round(difference, places) else ""  # nothing carries no sign
            off = f"off by {round(difference, places) + 0.0:{sign}.{places}f}{after}"
        return Check(
            quantity=quantity,
            side=side,
            ordered=ordered,
            read="" if read is None else str(read),
            difference=difference,
            limit=limit.limit,
            unit=unit,
            outcome=outcome,
            says=f"{off}, allowed {limit.limit:.{places}f}{after}",
            standing=f"{limit.standard} {limit.edition}: {limit.standing}",
            source=limit.source,
            from_memory=limit.from_memory,
        )


def _not_judged(
    quantity: str, side: Literal["right", "left", "both"], ordered: str, read: str, why: str
) -> Check:
    return Check(
        quantity=quantity,
        side=side,
        ordered=ordered,
        read=read,
        difference=None,
        limit=None,
        unit="",
        outcome="not_judged",
        says=why,
    )


def _asked(side: Literal["right", "left"]) -> Check:
    return Check(
        quantity="verification_power",
        side=side,
        ordered="not stated",
        read="",
        difference=None,
        limit=None,
        unit="D",
        outcome="ask_laboratory",
        says="ask the laboratory for its verification power: an office lens has one reference "
        "point, and the laboratory says which power is there",
        source="ISO 13666:2019, as a paper on it explains",
    )


def _change_not_verified(eye: EyeOrder) -> Check:
    return _not_judged(
        "power_change",
        eye.side,
        f"{eye.degression_d:.2f}",
        "",
        "cannot be verified on a focimeter: do the range test at a mock desk",
    )


def _power_words(eye: EyePrescription) -> str:
    eye = minus_cylinder(eye)
    if eye.cylinder_d == 0.0:
        return f"{eye.sphere_d:+.2f} DS"
    return f"{eye.sphere_d:+.2f} {eye.cylinder_d:+.2f} x {eye.axis_deg:03d}"


def _power_parts(eye: EyePrescription) -> dict[str, str]:
    """Return the whole power, its cylinder and its axis, each as it is compared."""
    cylinder_d = minus_cylinder(eye).cylinder_d
    axis = "none" if cylinder_d == 0.0 else f"{minus_cylinder(eye).axis_deg:03d}"
    cylinder = "none" if cylinder_d == 0.0 else f"{cylinder_d:+.2f}"
    return {"sphere": _power_words(eye), "cylinder": cylinder, "axis": axis}


def _power_along(eye: EyeOrder, meridian_deg: float) -> float:
    power = eye.verification or eye.powers[0].power
    return abs(meridian_power_d(power, meridian_deg=meridian_deg))


def _ordered_prism(eye: EyeOrder, ways: tuple[str, str]) -> float:
    """Return the prism ordered along one direction, in prism dioptres: positive the first way."""
    signs = dict(zip(ways, (1.0, -1.0), strict=True))
    return sum(signs[one.base] * one.amount_pd for one in eye.prescribed.prism if one.base in signs)
