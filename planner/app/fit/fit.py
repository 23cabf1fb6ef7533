"""Fit the model to a box of one's own: a logger's temperatures against the trip that was driven.

Three factors are sought: how active the bees were, how freely air went through the openings, how much the box leaked.
The prior is what the trade's judgement leaves of the catalogue's ranges; the answer is the most probable factors with
their spread, and how much of it the log has told rather than the prior.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from scipy.special import ndtri

from planner.app.plan.plan import shut_at_night
from planner.errors import Fault, InputError
from planner.model.cases import Variations, case_grid, cases_of, full_grid, lay_out, passage, simulate
from planner.model.catalogue import Catalogue
from planner.model.closing import closing_times
from planner.model.parameters import ParameterRow, Parameters
from planner.model.preparations import AS_DECLARED, SetUp
from planner.model.records import DepartureWindow, Floats, Ints, Road, Stated, Trip, Weather
from planner.model.timeline import Timeline, build_timeline
from planner.store.loggerfile import LoggerLog
from planner.store.posterior import LEAK, Posterior, bundled_posterior
from planner.words import say

Sensor = Literal["core", "stores", "air"]
SENSORS: dict[Sensor, str] = {"core": "core_c", "stores": "stores_c", "air": "box_air_c"}

FACTORS = ("activity", "air_flow", "leak")
FACTOR_TITLES = {
    "activity": "heat made by the bees",
    "air_flow": "air through mesh, screen and vents",
    "leak": "leak through joints",
}
ACTIVITY_ROWS = ("activity_waiting", "activity_driving", "activity_jolt")
FLOW_ROWS = ("discharge_mesh", "single_sided", "cooper")
FOLDED_ROWS = ("bee_cover_share", "mesh_porosity")
"""What a log cannot tell from an opening's discharge: it widens the prior, then is spoken for."""

BIN_S = 600.0
READING_K = 0.5
"""How far ten minutes of a good log lie from a perfect model: sensor and its place among the combs (grade D)."""

STEP = 0.005
RANGE_SDS = 2.0 * 1.6449
"""A row's low to high is taken as the middle nine tenths of its uncertainty."""

TELLING = 0.7
"""A spread still above this share of the prior's is more prior than log."""

STRUCTURE_SD = 0.1
"""What no log takes away: so far, in the logarithm, a factor that fits one trip may be off on another, since the model
is one of many that would fit (grade D)."""

FEWEST_BINS = 6
MOST_SDS, MOST_RUNS = 4.0, 25
FIRST_LOOK = (np.linspace(-2.5, 2.5, 21), np.linspace(-2.0, 2.0, 5), np.array([-1.5, 0.0, 1.5]))
"""Factors looked at first, in spreads of the prior: near a runaway there may be several valleys."""

BEGINNINGS = 3
WIDER, POINTS_LOG2, FEWEST_POINTS = 2.0, 10, 20
"""Points at which the spread is weighed: Sobol points of a normal twice as wide, and how many must count."""

PROBES = np.geomspace(0.25, 64.0, 17)
"""How far along each main axis the misfit is measured, in its Laplace spreads: at an edge it is no parabola."""


@dataclass(frozen=True, slots=True, eq=False)
class Driven(Stated):
    """The trip as it was driven: when it left, was shut and arrived (POSIX s, NaN where as planned), and in what.

    ``group`` the logged boxes, ``sensor`` where in the box the logger hung, ``column`` the column of the log.
    """

    left_s: float
    place: str
    closed_s: float = float("nan")
    arrived_s: float = float("nan")
    setup: SetUp = AS_DECLARED
    group: int = 0
    sensor: Sensor = "core"
    column: int = 0


@dataclass(frozen=True, slots=True)
class Factor:
    """One factor on what is typical: most probable, middle nine tenths, and the prior's.

    ``told_share`` is 0 when the log said nothing beyond the prior and 1 when it said all.
    """

    name: str
    value: float
    low: float
    high: float
    prior_low: float
    prior_high: float
    told_share: float


@dataclass(frozen=True)
class Fit:
    """What a log says about a box.

    ``time_s`` (bin,), ``logged_c``, ``before_c`` with what is typical, ``after_c`` with the factors found;
    ``rms_before_k``, ``rms_after_k``; ``hottest_c`` the core got by the fitted model; ``covariance`` (3, 3) of the
    logarithms; ``untold`` in plain words.
    """

    driven: Driven
    box_type: str
    factors: tuple[Factor, ...]
    covariance: Floats
    time_s: Floats
    logged_c: Floats
    before_c: Floats
    after_c: Floats
    rms_before_k: float
    rms_after_k: float
    untold: tuple[str, ...]
    hottest_c: float = float("nan")

    def factor(self, name: str) -> Factor:
        """One factor by its name."""
        return self.factors[FACTORS.index(name)]


def fit(
    trip: Trip, road: Road, weather: Weather, catalogue: Catalogue, log: LoggerLog, driven: Driven
) -> Fit:
    """Fit activity, air flow and leak to a log.

    Parameters
    ----------
    weather : of the hours driven, as they were
    catalogue : its ranges, as the trade's judgement leaves them, are the prior; with an earlier profile laid over it,
        that profile is

    Raises
    ------
    InputError : when the log does not cover the trip or the trip as driven cannot have been
    """
    bench = _Bench(trip, road, weather, catalogue, log, driven)
    theta = _likeliest(bench)
    before, after = bench.predicted(np.zeros(theta.size)), bench.predicted(theta)
    rms = [float(np.sqrt(np.mean((seen - bench.logged_c) ** 2))) for seen in (before, after)]
    spread = _spread(bench, theta, max(1.0, rms[1] / READING_K))
    covariance = spread.covariance()
    factors = tuple(_factor(i, theta, spread, bench.prior_at, bench.prior_sd) for i in range(len(FACTORS)))
    hottest_c = bench.hottest_c(theta)
    return Fit(
        driven=driven,
        box_type=trip.groups[driven.group].box_type,
        factors=factors,
        covariance=covariance,
        time_s=bench.time_s,
        logged_c=bench.logged_c,
        before_c=before,
        after_c=after,
        rms_before_k=rms[0],
        rms_after_k=rms[1],
        untold=tuple(_untold(factors, covariance, rms[1], not got_hot(hottest_c, catalogue))),
        hottest_c=hottest_c,
    )


def _likeliest(bench: _Bench) -> Floats:
    """The most probable factors: least squares from the best of a first look, from others while that fits badly."""
    from scipy.optimize import least_squares  # late, as scipy.stats

    best, cost = bench.prior_at.copy(), np.inf
    for begin in bench.beginnings(BEGINNINGS):
        found = least_squares(
            bench.residuals,
            begin,
            bench.slopes,
            x_scale=bench.prior_sd,
            bounds=(
                bench.prior_at - MOST_SDS * bench.prior_sd,
                bench.prior_at + MOST_SDS * bench.prior_sd,
            ),
            xtol=1e-4,
            ftol=1e-5,
            max_nfev=MOST_RUNS,
        )
        if found.cost < cost:
            best, cost = np.asarray(found.x, dtype=np.float64), float(found.cost)
        if 2.0 * cost < 2.0 * (bench.time_s.size + best.size):
            break
    return best


@dataclass(frozen=True)
class _Spread:
    """Where the factors may lie: points ``(point, factor)`` of their logarithms, and weights that sum to one."""

    points: Floats
    weights: Floats

    def covariance(self) -> Floats:
        off = self.points - self.weights @ self.points
        return np.asarray((off * self.weights[:, None]).T @ off)

    def quantiles(self, index: int, shares: Sequence[float]) -> list[float]:
        """Values of one factor's logarithm below which the given shares lie."""
        order = np.argsort(self.points[:, index])
        below = np.cumsum(self.weights[order]) - 0.5 * self.weights[order]
        return [float(np.interp(share, below, self.points[order, index])) for share in shares]


def _spread(bench: _Bench, theta: Floats, loose: float) -> _Spread:
    """Laplace's spread, corrected where the misfit is no parabola: its points weighed by their true misfit.

    Readings that fit worse than they should (``loose`` times) count for less. Where too few points keep any weight
    the uncorrected spread stands.
    """
    from scipy.stats import qmc  # late: scipy.stats takes longer to import than all the rest

    wide = WIDER * np.linalg.cholesky(_laplace(bench, theta, loose))
    even = (qmc.Sobol(theta.size, scramble=False).random_base2(POINTS_LOG2) + 0.5**POINTS_LOG2 / 2.0) % 1.0
    normal = ndtri(even)
    points = theta + normal @ wide.T
    log_weight = 0.5 * (normal**2).sum(axis=1) - 0.5 * bench.chi_squared(points, loose)
    weights = np.exp(log_weight - log_weight.max())
    weights /= weights.sum()
    if 1.0 / np.sum(weights**2) < FEWEST_POINTS:
        weights = np.exp(-0.5 * (WIDER**2 - 1.0) * (normal**2).sum(axis=1))
        weights /= weights.sum()
    return _Spread(points[:, : len(FACTORS)], weights)


def _laplace(bench: _Bench, theta: Floats, loose: float) -> Floats:
    """Covariance at the most probable factors, each main axis as long as the misfit really takes to rise."""
    sd = bench.prior_sd
    data = bench.slopes(theta)[: -sd.size] / loose
    variance, axes = np.linalg.eigh(np.linalg.inv(data.T @ data + np.diag(1.0 / sd**2)))
    length = np.sqrt(variance)
    sides = np.array([sign * axes[:, i] * length[i] for i in range(sd.size) for sign in (1.0, -1.0)])
    probed = theta + (sides[:, None, :] * PROBES[:, None]).reshape(-1, sd.size)
    risen = (bench.chi_squared(probed, loose) - bench.chi_squared(theta[None], loose)).reshape(
        -1, PROBES.size
    )
    reach = np.array([_one_unit(row) for row in risen]).reshape(-1, 2)
    longer = length**2 * np.mean(reach**2, axis=1)
    return np.asarray(axes @ np.diag(longer) @ axes.T, dtype=np.float64)


def _one_unit(risen: Floats) -> float:
    """Where along the probes the misfit has risen by one, as it does at one spread of a parabola."""
    above = np.flatnonzero(risen >= 1.0)
    if not above.size:
        return float(PROBES[-1])
    at = above[0]
    if at == 0:
        return float(PROBES[0] / np.sqrt(risen[0]))
    low, high = np.sqrt(max(risen[at - 1], 0.0)), np.sqrt(risen[at])
    return float(np.interp(1.0, (low, high), PROBES[at - 1 : at + 1]))


def _factor(index: int, theta: Floats, spread: _Spread, prior_at: Floats, prior_sd: Floats) -> Factor:
    low, high = (float(np.exp(at)) for at in spread.quantiles(index, (0.05, 0.95)))
    prior, value = float(prior_sd[index]), float(np.exp(theta[index]))
    at = float(prior_at[index])
    found = float(np.sqrt(spread.covariance()[index, index]))
    return Factor(
        name=FACTORS[index],
        value=value,
        low=min(low, value),
        high=max(high, value),
        prior_low=float(np.exp(at - 0.5 * RANGE_SDS * prior)),
        prior_high=float(np.exp(at + 0.5 * RANGE_SDS * prior)),
        told_share=float(np.clip(1.0 - found / prior, 0.0, 1.0)),
    )


def got_hot(hottest_c: float, catalogue: Catalogue) -> bool:
    """Whether a trip went where hot bees grow fully restless; where not, its log says nothing of that."""
    p = catalogue.parameters.typical()
    return bool(hottest_c >= p.agitation_start_c + p.agitation_span_k)


UNTOLD_TEXTS = {
    "little": "The log says little about {title}: its figure is mostly what was thought before.",
    "beyond": (
        "{title} comes out at {value} times the usual, outside what was thought possible ({low}-{high}): count "
        "the frames of bees again before you trust it."
    ),
    "cool": "The box never got hot, so how restless hot bees get, and how they die, stays as unsure as before.",
}


def _untold(factors: Sequence[Factor], covariance: Floats, rms_k: float, cool: bool = False) -> list[str]:
    """What the log could not tell, in plain words."""
    out = [
        UNTOLD_TEXTS["little"].format(title=FACTOR_TITLES[f.name])
        for f in factors
        if f.told_share < 1.0 - TELLING
    ]
    out += [
        UNTOLD_TEXTS["beyond"].format(
            title=FACTOR_TITLES[f.name][:1].upper() + FACTOR_TITLES[f.name][1:],
            value=f"{f.value:.2f}",
            low=f"{f.prior_low:.2f}",
            high=f"{f.prior_high:.2f}",
        )
        for f in factors
        if not f.prior_low <= f.value <= f.prior_high
    ]
    if cool:
        out.append(UNTOLD_TEXTS["cool"])
    spread = np.sqrt(np.diag(covariance))
    for i, j in ((0, 1), (0, 2), (1, 2)):
        if abs(covariance[i, j]) > 0.8 * spread[i] * spread[j]:
            a, b = FACTOR_TITLES[factors[i].name], FACTOR_TITLES[factors[j].name]
            out.append(say("fit.it_cannot_tell_from", a=f"{a}", b=f"{b}"))
    if rms_k > 2.0 * READING_K:
        out.append(say("fit.even_the_best_fit", rms_k=f"{rms_k:.1f}"))
    out.append("Number of bees and their activity look the same to a thermometer: count the frames well.")
    return out


class _Bench:
    """The driven trip integrated for any factors, read where the logger hung."""

    def __init__(
        self, trip: Trip, road: Road, weather: Weather, catalogue: Catalogue, log: LoggerLog, driven: Driven
    ) -> None:
        self._driven = driven
        trip, timeline = _as_driven(trip, road, driven)
        self._grid = case_grid(trip, road, weather, catalogue, [driven.place], [driven.setup], (0.0,))
        self._timeline, self._night = timeline, shut_at_night(trip, timeline.closed_s)
        self._passage = passage(self._grid, timeline, full_grid(self._grid, 1))
        self.time_s, self.logged_c, self._bin_of = self._binned(log, timeline)
        logged = trip.groups[driven.group]
        brooding = logged.open_brood_frames + logged.sealed_brood_frames > 0.0
        leak = catalogue.box_types[trip.groups[driven.group].box_type].leak_l_s
        at, sd = _prior(catalogue, leak, bundled_posterior())
        self.prior_at, self.prior_sd = np.append(at, 0.0), np.append(sd, _start_sd(catalogue, brooding))
        self._last: tuple[Floats, Floats] = (np.full(self.prior_sd.size, np.nan), np.empty(0))

    def _binned(self, log: LoggerLog, timeline: Timeline) -> tuple[Floats, Floats, Ints]:
        """Ten-minute means of the log while the box was shut, and the bin of every step (-1: none)."""
        group = self._driven.group
        closed, opened = float(timeline.closed_s[0, group]), float(timeline.opened_s[0, group])
        n_bins = max(1, int((opened - closed) // BIN_S))
        readings = log.temps_c[:, self._driven.column]
        at = np.floor((log.time_s - closed) / BIN_S).astype(np.int64)
        good = (at >= 0) & (at < n_bins) & ~np.isnan(readings)
        count = np.bincount(at[good], minlength=n_bins)
        kept = np.flatnonzero(count > 0)
        if kept.size < max(FEWEST_BINS, 0.5 * n_bins):
            problem = say("fit.the_log_covers_of", size=f"{kept.size}", n_bins=f"{n_bins}")
            remedy = "Check times, zone and 'left'; start the logger before closing"
            raise InputError([Fault("log", "", problem, remedy)])
        sums = np.bincount(at[good], readings[good], n_bins)
        number = np.full(n_bins, -1)
        number[kept] = np.arange(kept.size)
        step = np.floor((self._passage.time_s[:, 0] - closed) / BIN_S).astype(np.int64)
        inside = (step >= 0) & (step < n_bins)
        bin_of = np.where(inside, number[np.clip(step, 0, n_bins - 1)], -1)
        middle_s = np.asarray(closed + (kept + 0.5) * BIN_S, dtype=np.float64)
        return middle_s, sums[kept] / count[kept], bin_of.astype(np.int64)

    def beginnings(self, most: int) -> Floats:
        """The likeliest of many widely spread factors, best first, (beginning, factor)."""
        looked = [axis.ravel() for axis in np.meshgrid(*FIRST_LOOK)]
        spreads = np.stack([*looked, np.zeros(looked[0].size)], axis=1)
        thetas = self.prior_at + spreads * self.prior_sd
        likeliest: Floats = thetas[np.argsort(self.chi_squared(thetas))[:most]]
        return likeliest

    def chi_squared(self, thetas: Floats, loose: float = 1.0) -> Floats:
        """Misfit of log and prior for each row of factors, (row,)."""
        misfit = (self._simulate(thetas) - self.logged_c[:, None]) / (READING_K * loose)
        off = (thetas - self.prior_at) / self.prior_sd
        return np.asarray((misfit**2).sum(axis=0) + (off**2).sum(axis=1))

    def residuals(self, theta: Floats) -> Floats:
        """Misfit of log and prior in standard deviations."""
        misfit = (self._columns(theta)[:, 0] - self.logged_c) / READING_K
        return np.concatenate((misfit, (theta - self.prior_at) / self.prior_sd))

    def slopes(self, theta: Floats) -> Floats:
        """Slopes of the residuals by typical differences, (residual, factor)."""
        columns = self._columns(theta)
        n = theta.size
        data = (columns[:, 1 : n + 1] - columns[:, n + 1 :]) / (2.0 * STEP * READING_K)
        return np.concatenate((data, np.diag(1.0 / self.prior_sd)))

    def predicted(self, theta: Floats) -> Floats:
        """Ten-minute means of the model, (bin,)."""
        return self._columns(theta)[:, 0]

    def _columns(self, theta: Floats) -> Floats:
        """The model at ``theta`` and a step up and down each factor, (bin, 1 + 2 factors), as cases of one run."""
        if not np.array_equal(self._last[0], theta):
            around = np.concatenate(
                (np.zeros((1, theta.size)), STEP * np.eye(theta.size), -STEP * np.eye(theta.size))
            )
            self._last = (theta.copy(), self._simulate(theta + around))
        return self._last[1]

    def hottest_c(self, theta: Floats) -> float:
        """The hottest the core of the logged box gets while it is shut."""
        return float(np.nanmax(self._simulate(theta[None], "core")))

    def _simulate(self, thetas: Floats, sensor: Sensor | None = None) -> Floats:
        """Ten-minute means for each row of factors, (bin, row), where the logger hung or at another place."""
        sensor = sensor or self._driven.sensor
        grid, leak_m3_s = self._grid, np.array([box.leak_m3_s for box in self._grid.variants])
        factor = np.exp(thetas[:, : len(FACTORS)])
        table = cases_of(np.zeros((1, 3), dtype=np.int64), len(thetas), grid.groups)
        variations = Variations(
            parameters=_scaled(grid.table.typical(), factor, thetas[:, -1]),
            leak_m3_s=leak_m3_s[:, None] * factor[:, 2],
        )
        batch = lay_out(grid, self._timeline, self._night, table, variations, self._passage)
        seen = simulate(batch, detail=True).seen
        values = getattr(seen, SENSORS[sensor])
        at = np.flatnonzero(table.group == self._driven.group)
        over_steps = values[:, at] if sensor == "air" else 0.5 * (values[:-1, at] + values[1:, at])
        inside = self._bin_of >= 0
        bins, n_bins = self._bin_of[inside], self.time_s.size
        count = np.bincount(bins, minlength=n_bins)
        means = [np.bincount(bins, column[inside], n_bins) / count for column in over_steps.T]
        return np.asarray(np.stack(means, axis=1), dtype=np.float64)


def _as_driven(trip: Trip, road: Road, driven: Driven) -> tuple[Trip, Timeline]:
    """The trip with the departure, closing and driving time as they were."""
    departure = np.array([driven.left_s])
    standing_s = sum(stop.dwell_s for stop in trip.stops)
    factor = trip.drive_time_factor
    if np.isfinite(driven.arrived_s):
        factor = (driven.arrived_s - driven.left_s - standing_s) / road.driving_s
        if not 0.3 < factor < 5.0:
            problem = say("fit.driving_would_have_taken", factor=f"{factor:.1f}")
            raise InputError([Fault("arrived", "", problem, "Check 'left', 'arrived' and the stops")])
    trip = replace(trip, window=DepartureWindow(driven.left_s, driven.left_s), drive_time_factor=factor)
    closed = closing_times(trip, road, departure)
    if np.isfinite(driven.closed_s):
        closed[:, driven.group] = driven.closed_s
    return trip, build_timeline(trip, road, departure, closed)


def _start_sd(catalogue: Catalogue, brooding: bool) -> float:
    """Spread of the core temperature at closing that the range of the catalogue stands for, K."""
    row = catalogue.parameters.rows["start_brood_c" if brooding else "start_broodless_c"]
    return max((row.high - row.low) / RANGE_SDS, SMALLEST_SD)


def _scaled(p: Parameters, factor: Floats, start_k: Floats) -> dict[str, Floats]:
    """The typical activity and air flow multiplied and the start shifted, each (row,), by name."""
    values = {name: getattr(p, name) * factor[:, 0] for name in ACTIVITY_ROWS}
    values |= {name: getattr(p, name) * factor[:, 1] for name in FLOW_ROWS}
    return values | {name: getattr(p, name) + start_k for name in ("start_brood_c", "start_broodless_c")}


def _prior(
    catalogue: Catalogue, leak_l_s: tuple[float, float, float], posterior: Posterior | None
) -> tuple[Floats, Floats]:
    """Middle and spread of the logarithm of each factor on what is typical: the catalogue's range, or what judgement
    leaves of it.

    Judgement is about loads in common; one box differs from them by the scatter of loads and boxes, which the table's
    rows have in them already.
    """
    at, sd = np.zeros(len(FACTORS)), _prior_sd(catalogue, leak_l_s)
    names = posterior.of_table(catalogue.parameters) if posterior else ()
    if posterior and LEAK in names:
        low, middle, high = posterior.rows[LEAK].band
        usual, least, most = np.log(leak_l_s)
        towards = usual - least if middle < 0.0 else most - usual
        common = 0.5 * (high - low) / (0.5 * RANGE_SDS)
        at[2] = middle * towards
        sd[2] = np.hypot(common, posterior.scatter.get(LEAK, 0.0)) * 0.5 * (most - least)
    return at, np.asarray(np.maximum(sd, SMALLEST_SD), dtype=np.float64)


def _prior_sd(catalogue: Catalogue, leak_l_s: tuple[float, float, float]) -> Floats:
    """Spread of the logarithm of each factor that the ranges of the catalogue stand for."""
    rows, driving = catalogue.parameters.rows, catalogue.parameters.believed("activity_driving")
    activity = _log_sd(driving.low, driving.high)
    discharge = _log_sd(rows["discharge_mesh"].low, rows["discharge_mesh"].high)
    cover = _log_sd(1.0 - rows["bee_cover_share"].high, 1.0 - rows["bee_cover_share"].low)
    porosity = _log_sd(rows["mesh_porosity"].low, rows["mesh_porosity"].high)
    flow = float(np.sqrt(discharge**2 + cover**2 + porosity**2))
    sd = np.array([activity, flow, _log_sd(leak_l_s[1], leak_l_s[2])])
    return np.asarray(np.maximum(sd, SMALLEST_SD), dtype=np.float64)


SMALLEST_SD = 1e-3


def _log_sd(low: float, high: float) -> float:
    return float(np.log(high / low) / RANGE_SDS)


def profile_rows(found: Fit, catalogue: Catalogue) -> dict[str, dict[str, dict[str, object]]]:
    """The fit as catalogue rows: parameters and the leak of the box type, with their new ranges.

    A row keeps no uncertainty that the fit has already counted in another, and loses none that the log had nothing
    to say about: the model's structure, and bees hotter than any the log saw. A row the log says little about keeps
    its grade.
    """
    rows = catalogue.parameters.rows
    parameters: dict[str, dict[str, object]] = {}
    for names, factor in ((ACTIVITY_ROWS, found.factor("activity")), (FLOW_ROWS, found.factor("air_flow"))):
        told: dict[str, object] = {"grade": "B", "source": "fitted to a logger of your own"}
        for name in names:
            parameters[name] = _scaled_range(catalogue.parameters.believed(name).value, factor) | (
                told if factor.told_share >= 1.0 - TELLING else {}
            )
    for name in FOLDED_ROWS:
        parameters[name] = {"low": rows[name].value, "high": rows[name].value}
    parameters |= _as_fitted(catalogue)
    if not got_hot(found.hottest_c, catalogue):
        gain = catalogue.parameters.believed("agitation_gain")
        parameters["agitation_gain"] = _own(replace(gain, high=_hot_doubt(gain, found.factor("activity"))))
    leak = _scaled_range(catalogue.box_types[found.box_type].leak_l_s[0], found.factor("leak"))
    box: dict[str, dict[str, object]] = {found.box_type: {"leak_l_s": list(leak.values())}}
    return {"parameters": parameters, "box_types": box}


PRODUCT_ROWS = ("frame_bees_factor", "closed_at_night_gain", "rest_heat_w_kg")
"""Rows that act only as a product with the activity: it was fitted with what is typical of them."""


def _as_fitted(catalogue: Catalogue) -> dict[str, dict[str, object]]:
    """The rows of the product as they stood when the activity was fitted, as wide as judgement leaves them.

    Judgement moves the rows of a product together; an activity of one's own beside the others as judgement has moved
    them would count that twice.
    """
    narrowed = catalogue.parameters.narrowed
    return {name: _own(narrowed[name]) for name in PRODUCT_ROWS if name in narrowed}


def _own(row: ParameterRow) -> dict[str, object]:
    """A row as a file of one's own gives it."""
    return {"value": _short(row.value), "low": _short(row.low), "high": _short(row.high)}


def _scaled_range(value: float, factor: Factor) -> dict[str, object]:
    """A figure multiplied, with a range that has the doubt about the model's structure in it."""
    low, high = _with_structure(factor)
    return {"value": _short(value * factor.value), "low": _short(value * low), "high": _short(value * high)}


def _with_structure(factor: Factor) -> tuple[float, float]:
    """The middle nine tenths of a factor, widened as independent doubts add up."""
    half = 0.5 * RANGE_SDS * STRUCTURE_SD
    down, up = np.log(factor.value / factor.low), np.log(factor.high / factor.value)
    return float(factor.value * np.exp(-np.hypot(down, half))), float(
        factor.value * np.exp(np.hypot(up, half))
    )


def _hot_doubt(gain: ParameterRow, activity: Factor) -> float:
    """How much hot bees may at most be beyond cool ones, so that what they make together is as unsure as before."""
    before = 0.5 * np.log(activity.prior_high / activity.prior_low)
    low, high = _with_structure(activity)
    after = min(0.5 * np.log(high / low), before)
    return _short(
        gain.value * float(np.exp(np.sqrt(np.log(gain.high / gain.value) ** 2 + before**2 - after**2)))
    )


def _short(value: float) -> float:
    """Five figures: more than any log can tell."""
    return float(f"{value:.5g}")
