"""The pages that explain the program, by name, from what this installation brings."""

from __future__ import annotations

from planner.app.explain.checks import kept_checks
from planner.app.explain.model_page import model_page
from planner.app.explain.page import MODEL, TRIPS, Page
from planner.app.explain.trips_page import trips_page
from planner.app.trade.results import kept_results
from planner.app.trade.table import load_trade_year
from planner.model.catalogue import Catalogue
from planner.store.posterior import bundled_posterior
from planner.units import METRIC, UnitSystem


def explaining_pages(catalogue: Catalogue, units: UnitSystem = METRIC) -> dict[str, Page]:
    """Both pages. Raises InputError or StorageError when a file they are made from is damaged."""
    year = load_trade_year(catalogue)
    return {
        TRIPS: trips_page(year, kept_results(year), units),
        MODEL: model_page(catalogue.parameters, year, bundled_posterior(), kept_checks()),
    }
