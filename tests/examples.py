"""Invented cases for the tests: nobody's desk."""

from __future__ import annotations

from typing import Any

from engine.case.model import Case
from engine.case.read import build_case


def eye(add_d: float | None = 2.0, **more: Any) -> dict[str, Any]:
    return {"sphere_d": 0.5, **({} if add_d is None else {"add_d": add_d}), **more}


def screen(**more: Any) -> dict[str, Any]:
    """A 24 inch screen whose top edge is 6 cm above the eyes."""
    usual = {
        "name": "screen",
        "kind": "screen",
        "distance_cm": 65,
        "top_above_eye_cm": 6,
        "diagonal_in": 24,
        "aspect": "16:9",
        "tilt_deg": 5,
        "text_height_mm": 3.6,
    }
    return {**usual, **more}


def paper(**more: Any) -> dict[str, Any]:
    usual = {
        "name": "papers",
        "kind": "page",
        "distance_cm": 42,
        "centre_above_eye_cm": -30,
        "width_cm": 21,
        "height_cm": 25,
        "text_height_mm": 2.4,
    }
    return {**usual, **more}


def far(**more: Any) -> dict[str, Any]:
    usual = {
        "name": "board",
        "kind": "far",
        "distance_cm": 300,
        "centre_above_eye_cm": 0,
        "text_arcmin": 16,
    }
    return {**usual, **more}


def activity(hours: float = 6.0, *, name: str = "desk", **looks: float) -> dict[str, Any]:
    """activity(6, screen=0.8, papers=0.2)."""
    shares = [{"target": target, "share": share} for target, share in looks.items()]
    return {"name": name, "hours": hours, "looks": shares}


def case(
    *targets: dict[str, Any],
    activities: list[dict[str, Any]] | None = None,
    add_d: float | None = 2.0,
    age_years: float = 54,
    wearer: dict[str, Any] | None = None,
    **more: Any,
) -> Case:
    """A case with one activity that looks at all targets alike, unless told otherwise."""
    placed = list(targets) or [screen()]
    alike = {target["name"]: 1.0 / len(placed) for target in placed}
    who = {"age_years": age_years, "right": eye(add_d), "left": eye(add_d), **(wearer or {})}
    return build_case(
        {
            "schema": 1,
            "label": "invented",
            "wearer": who,
            "targets": placed,
            "activities": activities or [activity(**alike)],
            **more,
        }
    )
