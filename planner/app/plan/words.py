"""What a candidate of a plan is called."""

from __future__ import annotations

from planner.app.common.wording import clock_text, lower_first
from planner.app.plan.results import Choice, Plan


def choice_text(plan: Plan, choice: Choice) -> str:
    """Departure, place and set-up of a candidate, e.g. ``Thursday 21:30, open trailer, roof screens on``."""
    when = clock_text(float(plan.departures_s[choice.departure]), plan.trip.origin.zone)
    return f"{when}, {lower_first(plan.loading_place_titles[choice.loading_place])}, {plan.setup_titles[choice.setup]}"
