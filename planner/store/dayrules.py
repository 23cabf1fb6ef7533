"""What a collection day takes for granted: the bundled ``day.toml``."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from planner.bundled import resource_path
from planner.store.documents import read_toml


@dataclass(frozen=True)
class DayRules:
    """The rows of ``resources/day.toml``; lengths of time in seconds.

    ``rides`` loading places by vehicle, not cooled and cooled. ``care_*`` what an hour off the wish, an hour
    that a closing costs, a step of effort and an hour of driving a slot-hour later weigh against each other.
    """

    rides: dict[str, tuple[str, str]]
    usual_vehicle: str
    first_timer_factor: float
    first_timer_stop_s: float
    drive_step_s: float
    strength_step_frames: float
    straps_each: int
    most_waiting_s: float
    care_wish_h: float
    care_shut_h: float
    care_effort: float
    care_late_h: float


@cache
def day_rules() -> DayRules:
    """The bundled rules."""
    table = read_toml(resource_path("day.toml"), "the rules of a collection day")
    rides, care = table["rides"], table["care"]
    return DayRules(
        rides={name: (two[0], two[1]) for name, two in rides.items() if name != "usual"},
        usual_vehicle=rides["usual"],
        first_timer_factor=table["first_timer"]["drive_factor"],
        first_timer_stop_s=table["first_timer"]["stop_minutes"] * 60.0,
        drive_step_s=table["table"]["drive_step_minutes"] * 60.0,
        strength_step_frames=table["table"]["strength_step_frames"],
        straps_each=table["straps"]["each_box"],
        most_waiting_s=table["waiting"]["most_hours"] * 3600.0,
        care_wish_h=care["hour_off_the_wish"],
        care_shut_h=care["hour_shut"],
        care_effort=care["effort"],
        care_late_h=care["long_drive_late"],
    )
