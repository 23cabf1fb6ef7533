"""A fit in words, as a document, and as the profile that is kept."""

from __future__ import annotations

from datetime import date
from typing import Any

from planner.app.common.timetext import utc_text
from planner.app.common.wording import Said, numbers
from planner.app.fit.fit import FACTOR_TITLES, Factor, Fit, profile_rows
from planner.model.catalogue import Catalogue
from planner.store.catalogue import table_mark
from planner.store.loggerfile import LoggerLog
from planner.store.profiles import About, Profile
from planner.units import METRIC, UnitSystem
from planner.words import say


def fit_words(found: Fit, log: LoggerLog, catalogue: Catalogue, units: UnitSystem = METRIC) -> Said:
    """The fit for people: what was found, how much closer it comes, what stays open."""
    title = catalogue.box_types[found.box_type].title
    activity = found.factor("activity")
    return Said(
        say(
            "fit.headline",
            box=title,
            factor=f"{activity.value:.2f}",
            low=f"{activity.low:.2f}",
            high=f"{activity.high:.2f}",
            before=units.step_text(found.rms_before_k),
            after=units.step_text(found.rms_after_k),
        ),
        (
            (say("fit.factors"), tuple(_factor_line(factor) for factor in found.factors)),
            (say("fit.untold"), found.untold),
            (say("fit.read"), log.notes),
            *(((say("fit.not_used"), catalogue.remarks),) if catalogue.remarks else ()),
        ),
    )


def _factor_line(factor: Factor) -> str:
    figures = ("value", "low", "high", "prior_low", "prior_high")
    gaps = {name: f"{getattr(factor, name):.2f}" for name in figures}
    return say("fit.factor", factor=FACTOR_TITLES[factor.name], **gaps)


def fit_document(found: Fit) -> dict[str, Any]:
    """The fit for machines."""
    return {
        "skepway_fit": 1,
        "box_type": found.box_type,
        "factors": [
            {name: getattr(factor, name) for name in type(factor).__dataclass_fields__}
            for factor in found.factors
        ],
        "covariance_of_logarithms": found.covariance.tolist(),
        "rms_before_k": found.rms_before_k,
        "rms_after_k": found.rms_after_k,
        "untold": list(found.untold),
        "time": [utc_text(float(at)) for at in found.time_s],
        **{name: numbers(getattr(found, name)) for name in ("logged_c", "before_c", "after_c")},
    }


def profile_of(
    found: Fit,
    catalogue: Catalogue,
    trip: str,
    today: date,
    *,
    yard: str = "",
    earlier: Profile | None = None,
) -> Profile:
    """The fit as a profile of its box type, or of a yard; trips of an earlier profile it builds on stay named."""
    about: About = "yard" if yard else "box_type"
    return Profile(
        about=about,
        name=yard or found.box_type,
        made_on=today.isoformat(),
        trips=(*(earlier.trips if earlier else ()), trip),
        rows=profile_rows(found, catalogue),
        notes=found.untold,
        table=table_mark(),
    )
