"""The tables for the optician: what each thing asks for, and what each lens makes of it. Pure."""

from __future__ import annotations

from collections.abc import Sequence

from app import telling
from engine.results import ClearRange, OptionResult, OptionTarget, Result

NEED_HEADINGS = [
    "looked at",
    "distance, cm",
    "asks, D",
    "needed add, D",
    "add with focusing at rest, D",
    "below level, °",
    "text, arcmin",
    "blur limit, D",
]


def need_rows(result: Result) -> list[list[str]]:
    """What each thing looked at asks for, whatever the lens."""
    return [
        [
            target.target,
            f"{target.distance_cm:.0f}",
            f"{target.demand_d:.2f}",
            _signed(target.needed_add_d),
            _signed(target.relaxed_add_d),
            _degrees(target.declination_deg),
            f"{target.text_arcmin:.1f}",
            f"{target.blur_limit_d:.2f}",
        ]
        for target in result.targets
    ]


TARGET_HEADINGS = [
    "lens, looked at",
    "chin up with it, °",
    "with focusing at rest, °",
    "head left free, °",
    "eye down, °",
    "comfortable / strained / not served, %",
    "in one posture, %",
    "clear from – to, cm",
    "ISO 11226",
    "RULA neck",
    "imbalance, Δ",
]


def target_rows(options: Sequence[OptionResult]) -> list[list[str]]:
    """A row for each lens and thing looked at: head, eyes, shares, scales."""
    return [
        [f"{telling.option_name(option)}, {target.target}", *_seen_through(target)]
        for option in options
        for target in option.targets
    ]


def _seen_through(target: OptionTarget) -> list[str]:
    centre = next((row for row in target.rows if row.row == "centre"), target.rows[0])
    imbalance = target.vertical_imbalance_pd
    return [
        _degrees(centre.chin_up_deg),
        _degrees(centre.relaxed_chin_up_deg),
        _degrees(centre.free_chin_up_deg),
        _degrees(centre.gaze_down_deg),
        " / ".join(
            f"{100 * share:.0f}"
            for share in (target.comfortable_share, target.strained_share, target.not_served_share)
        ),
        f"{100 * target.one_posture_share:.0f}",
        _range(target.clear_range_cm),
        target.scales.iso11226 or "–",
        "–" if target.scales.rula is None else str(target.scales.rula),
        "–" if imbalance is None else f"{imbalance:.2f}",
    ]


def rule_rows(result: Result) -> list[list[str]]:
    """What the rules of thumb would order here, and their error."""
    rows = []
    for target in result.targets:
        if target.rules_of_thumb is None:
            continue
        for name, rule in (
            ("half the add", target.rules_of_thumb.half_add),
            ("reader minus 0.75", target.rules_of_thumb.reader_minus_075),
        ):
            rows.append(
                [
                    target.target,
                    name,
                    "beyond all limits" if rule.focus_cm is None else f"{rule.focus_cm:.0f}",
                    "–" if rule.error_cm is None else _minus(f"{rule.error_cm:+.0f}"),
                    _signed(rule.error_d),
                ]
            )
    return rows


RULE_HEADINGS = ["looked at", "rule of thumb", "focuses at, cm", "error, cm", "error, D"]


def _degrees(value: float | None) -> str:
    return "–" if value is None else _minus(f"{round(value, 1) + 0.0:.1f}")


def _signed(value: float) -> str:
    return _minus(f"{round(value, 2) + 0.0:+.2f}")


def _minus(text: str) -> str:
    """A typographic minus, which does not break off from its number."""
    return text.replace("-", "−")


def _range(clear: ClearRange | None) -> str:
    if clear is None:
        return "–"
    near = "0" if clear.near is None else f"{clear.near:.0f}"
    return f"{near} – {'∞' if clear.far is None else f'{clear.far:.0f}'}"
