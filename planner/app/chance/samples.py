"""Sampling what nobody knows exactly: the numbers of the model, the loading place, the forecast.

One sample is one agitation of bees, one truth for each number, one error of each loading
place, one error of the forecast that changes slowly with the hour. Every candidate meets the same samples
(common random numbers), so that two candidates differ by what they are and not by luck.

Each number lies evenly between its low and its value in half of the samples, evenly between its value and
its high in the other half (in the logarithm where the row says so): the same spread as a bell curve with
the range as its 90 % band, without impossible values. Numbers that only shape the air of a loading place
(the sun that soaks into a cabin, nets, shade) are not sampled one by one; the band of the place covers them.
The error of the wind moves the air speed at the box, the share that comes of driving too, which is known no
better.
"""

from __future__ import annotations

import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import product

import numpy as np
import scipy  # and not scipy.special, which takes a third of a second: read when first asked

from planner.app.chance.points import even_points, points_apart
from planner.model.cases import CaseGrid, SimulatedBatch, Variations, cases_of, lay_out, simulate
from planner.model.integrate import Histories
from planner.model.limits import UNKNOWN, Assessment
from planner.model.parameters import ParameterRow, ParameterTable, in_range
from planner.model.records import Floats, Ints, Weather
from planner.model.timeline import Timeline, build_timeline
from planner.store.forecast_error import KINDS, ForecastError
from planner.store.posterior import ACTIVITY, BEES, LEAK, LEVELS, Posterior, scatter_of

STEP_S = 120.0
"""Step of the samples: typically 0.05 K from the minute steps of a plan; 1 sample in 100 at a tipping point turns."""

KNOT_S = 6 * 3600.0
EDGE = 1e-9

RING = 28
"""Knots after which the errors of a steady space come round again: a week."""

SUBJECTS: Mapping[str, tuple[str, ...]] = {
    "agitation": ("activity_*", "jolt_decay_s", "agitation_gain", "fanning_w_kg", "stale_*", "quiet_*"),
    "bees": (
        "bee_mass_kg",
        "frame_bees_factor",
        "closed_at_night_gain",
        "beard_*",
        "foragers_share",
        "flight_from_c",
    ),
    "resting heat": (
        "rest_*",
        "larvae_w_per_1000",
        "sealed_w_per_1000",
        "brood_q10",
        "brood_constant_above_c",
        "brood_fill_share",
        "heat_ceiling_w_kg",
        "agitation_start_c",
        "agitation_span_k",
    ),
    "air flow": (
        "discharge_mesh",
        "single_sided",
        "cooper",
        "mesh_porosity",
        "foam_porosity",
        "bee_cover_share",
        "discharge_open",
        "crack_s_m",
        "gummed_crack_share",
        "dead_block_share",
        "flat_floor_share",
        "fan_*",
    ),
    "water": (
        "evaporation_*",
        "crop_water_kg",
        "gorged_water_kg",
        "fetch_g_h_kg",
        "crop_honey_kg",
        "honey_j_kg",
        "starving_h",
        "cuticle_w_kg",
        "exit_saturation",
        "water_last_s",
        "mist_evaporation_s",
        "soaked_share",
        "syrup_water_share",
    ),
    "box": (
        "bees_j_kgk",
        "brood_j_kgk",
        "brood_mass_kg",
        "honey_j_kgk",
        "wax_j_kgk",
        "wood_j_kgk",
        "film_w_m2k",
        "spread_w_kgk",
        "comb_gap_w_m2k",
        "start_*",
        "inside_film_m2k_w",
        "outside_film_*",
        "outside_radiation_w_m2k",
        "screen_sun_share",
    ),
    "cold": (
        "shiver_max_w_kg",
        "brood_hold_c",
        "hold_band_k",
        "cluster_*",
        "packed_*",
        "mantle_film_*",
        "screen_draught_share",
        "loose_cluster_factor",
    ),
    "limits": (
        "brood_dose_*",
        "sperm_*",
        "worker_*",
        "death_steepness",
        "coma_*",
        "mantle_share",
        "*_caution_c",
        "*_danger_c",
        "brood_warn_dose",
        "brood_harm_dose",
        "queen_*",
        "brood_chill_*",
        "brood_cold_*",
        "brood_edge_share",
        "mantle_chill_c",
        "freezing_c",
    ),
    "place": (),
    "forecast": (),
}
"""What a uncertainty is about, and the rows of the parameter table that belong to it."""

NOT_SAMPLED = (
    "agitation_reach",
    "co2_restless_span",
    "stale_core_span_k",
    "quiet_span_k",
    "comb_gap_share",
    "entrance_height_m",
    "flight_sun_w_m2",
    "fuel_last_s",
    "hungry_j_kg",
    "stores_lag_h",
    "ground_albedo",
    "lid_emissivity",
    "sun_fast_share",
    "sun_fast_s",
    "sun_slow_s",
    "arrival_sun_share",
    "skin_speed_stated_ms",
    "skin_speed_most_ms",
    "shade_share",
    "net_speed_factor",
    "net_pressure_factor",
    "net_sun_factor",
    "wetting_rain_mm_h",
    "film_lag_s",
    "person_w",
    "person_co2_m3_s",
    "climate_lag_s",
    "deck_lag_s",
    "creep_speed_ms",
    "skin_film_w_m2k",
    "sun_offset_reference_w_m2",
    "row_stated_k",
    "co2_m3_per_j",
    "co2_alert_share",
    "co2_danger_share",
    "driver_co2_caution_share",
    "driver_co2_alert_share",
    "no_mist_below_c",
    "action_before_danger_k",
    "ambient_co2_share",
    "brood_frame_edge_m",
    "brood_frame_pitch_m",
    "start_most_c",
    "humid_from_share",
    "humid_span_share",
    "ruined_dead",
    "dry_below_kg",
)
"""Rows that shape no box of their own: covered by the band of the place or of another row, or a rule and not an
unknown."""


def subject_of(name: str) -> str | None:
    """What the uncertainty about a parameter row is about; None for rows that are not drawn."""
    if name in NOT_SAMPLED:
        return None
    return next((s for s, rows in SUBJECTS.items() if any(_matches(name, row) for row in rows)), None)


def _matches(name: str, pattern: str) -> bool:
    if pattern.startswith("*"):
        return name.endswith(pattern[1:])
    return name.startswith(pattern[:-1]) if pattern.endswith("*") else name == pattern


@dataclass(frozen=True)
class Sample:
    """samples.

    ``values`` (sample,) of each drawn parameter; ``agitation`` (sample,) how agitated the bees are, -1..1 of
    their range on average; ``leak`` (sample,) and ``place`` (sample, place) positions in their ranges, -1..1;
    ``member`` (sample,) which weather; ``way`` (sample,) which of the ways a box may go, None where there is one;
    ``error`` (sample, knot, kind) standard normal forecast errors of KINDS
    at ``knots_s``.
    """

    values: Mapping[str, Floats]
    agitation: Floats
    leak: Floats
    place: Floats
    member: Ints
    knots_s: Floats
    error: Floats
    way: Ints | None = None

    @property
    def samples(self) -> int:
        return int(self.leak.size)

    def take(self, rows: slice | Ints) -> Sample:
        """Some of the samples."""
        return Sample(
            values={name: value[rows] for name, value in self.values.items()},
            agitation=self.agitation[rows],
            leak=self.leak[rows],
            place=self.place[rows],
            member=self.member[rows],
            knots_s=self.knots_s,
            error=self.error[rows],
            way=None if self.way is None else self.way[rows],
        )


def joined(first: Sample, then: Sample) -> Sample:
    """The samples of one space and those of another over the same places and hours, one after the other."""
    names = [name for name in then.values if name in first.values]

    def both(a: np.ndarray, b: np.ndarray) -> np.ndarray:
        return np.concatenate((a, b))

    return Sample(
        values={name: both(first.values[name], then.values[name]) for name in names},
        agitation=both(first.agitation, then.agitation),
        leak=both(first.leak, then.leak),
        place=both(first.place, then.place),
        member=both(first.member, then.member),
        knots_s=then.knots_s,
        error=both(first.error, then.error),
        way=None if first.way is None or then.way is None else both(first.way, then.way),
    )


class SampleSpace:
    """The space the samples are drawn from: one column in 0..1 for each unknown.

    Parameters
    ----------
    table : parameter rows with their ranges
    places : names of the loading places, each with its own error
    first_s, last_s : instants between which the forecast is used
    members : how many weathers an ensemble has (1 for a single forecast)
    misses : how forecasts miss
    posterior : numbers narrowed together; None leaves each in its own range
    ways : how likely each of the ways is that boxes may go, where there are several
    steady : whether a sample stays the same whatever hours and places it is asked for: another window or one place more
        changes nothing about what both have. Knots then lie on whole quarters of the day, and what belongs to a quarter
        or to a place is drawn for itself, by its name.
    """

    def __init__(
        self,
        table: ParameterTable,
        places: Sequence[str],
        first_s: float,
        last_s: float,
        forecast_error: ForecastError,
        members: int = 1,
        posterior: Posterior | None = None,
        ways: Sequence[float] = (),
        steady: bool = False,
    ) -> None:
        self._table, self._posterior, self._steady = table, posterior, steady
        self._narrowed = posterior.of_table(table) if posterior else ()
        self._rows = [row for row in table.rows.values() if _sampled(row)]
        self._agitations = [row for row in self._rows if row.agitation]
        self._plain = [row for row in self._rows if not row.agitation]
        self.places = tuple(places)
        self._members = members
        self._ways = np.cumsum(ways)
        self._weights = tuple(ways)
        self._forecast_error = forecast_error
        self.knots_s = _knots_s(first_s, last_s, steady=steady)
        drawn = RING if steady else self.knots_s.size
        # what matters most comes first: the first columns are spread together
        mattering = [row.name for row in self._plain if row.name in MATTERING]
        self.columns: tuple[str, ...] = (
            "all agitation",
            *(f"scatter {what}" for what in (posterior.scatter if posterior else ())),
            *mattering,
            *(f"place {name}" for name in places),
            "leak",
            *(f"{kind} {i}" for i in range(drawn) for kind in KINDS),
            "forecast member",
            *(row.name for row in self._agitations),
            *(row.name for row in self._plain if row.name not in MATTERING),
            *(("way",) if len(ways) > 1 else ()),
        )

    @property
    def subjects(self) -> tuple[str, ...]:
        """What the uncertainty of each column is about."""
        return tuple(map(self._subject, self.columns))

    def _subject(self, column: str) -> str:
        first = SCATTERED.get(column, column.split()[0])
        known = {"all": "agitation", "leak": "air flow", "forecast": "forecast"}
        known |= dict.fromkeys(("place", "way"), "place")
        return known.get(first) or subject_of(first) or "forecast"

    def sample(self, count: int, generator: np.random.Generator) -> Sample:
        """``count`` samples, spread evenly; so are the first 2^n of them."""
        return self.at(self.uniform(count, generator))

    def over(self, places: Sequence[str], first_s: float, last_s: float) -> SampleSpace:
        """The same space for other places, and for other hours too."""
        first, last = min(first_s, float(self.knots_s[0])), max(last_s, float(self.knots_s[-1]))
        return SampleSpace(
            self._table, places, first, last, self._forecast_error, self._members, self._posterior,
            self._weights, self._steady,
        )  # fmt: skip

    def uniform(self, count: int, generator: np.random.Generator) -> Floats:
        """Points in 0..1, (sample, column)."""
        if self._steady:
            return self._steady_points(count, generator)
        if "way" not in self.columns:
            return even_points(count, len(self.columns), generator)
        known = even_points(
            count, len(self.columns) - 1, generator
        )  # as where the way is known: they compare
        return np.concatenate((known, points_apart(count, 1, generator)), axis=1)

    def _steady_points(self, count: int, generator: np.random.Generator) -> Floats:
        """Points in which the columns of a place and those of the forecast's error depend on nothing else."""
        key = int(generator.integers(1 << 32))
        errors = [f"{kind} {i}" for i in range(RING) for kind in KINDS]
        places = [column for column in self.columns if column.startswith("place ")]
        common = [column for column in self.columns if column not in {*errors, *places, "way"}]
        found = dict(zip(common, even_points(count, len(common), generator).T, strict=True))
        found["way"] = points_apart(count, 1, generator)[:, 0]
        alone = np.random.default_rng([key, 0])
        found |= dict(zip(errors, points_apart(count, len(errors), alone).T, strict=True))
        for place in places:
            alone = np.random.default_rng([key, zlib.crc32(place.encode())])
            found[place] = points_apart(count, 1, alone)[:, 0]
        return np.stack([found[column] for column in self.columns], axis=1)

    def at(self, uniform: Floats) -> Sample:
        """Samples at given points, (sample, column) in 0..1."""
        column = dict(zip(self.columns, np.clip(uniform, EDGE, 1.0 - EDGE).T, strict=True))
        rank = self._alike(column)
        values = {row.name: in_range(row, 2.0 * rank[row.name] - 1.0) for row in self._agitations}
        values |= {row.name: in_range(row, 2.0 * column[row.name] - 1.0) for row in self._plain}
        values[LEAK] = 2.0 * column["leak"] - 1.0
        if self._posterior:
            together = narrowed_ranks(self._posterior, self._narrowed, column)
            rank |= {name: at for name, at in together.items() if name in rank}
            values |= narrowed_values(self._posterior, together, column)
        leak = values.pop(LEAK)
        places = [value for name, value in column.items() if name.startswith("place ")]
        return Sample(
            values=values,
            agitation=2.0 * np.mean(list(rank.values()), axis=0) - 1.0,
            leak=leak,
            place=2.0 * np.stack(places, axis=1) - 1.0 if places else np.zeros((len(uniform), 0)),
            member=np.floor(column["forecast member"] * self._members).astype(np.int64),
            knots_s=self.knots_s,
            error=self._errors(column),
            way=np.searchsorted(self._ways[:-1], column["way"]) if "way" in column else None,
        )

    def middle(self) -> Sample:
        """The one sample in which all is as the table holds typical: that of which a plan draws its curves."""
        sample = self.at(np.full((1, len(self.columns)), 0.5))
        values = {name: np.array([self._table.believed(name).value]) for name in sample.values}
        return replace(sample, values=values, agitation=np.zeros(1), leak=np.zeros(1))

    def _alike(self, column: Mapping[str, Floats]) -> dict[str, Floats]:
        """Ranks of the activity rows, 0..1, leaning the same way."""
        share = self._forecast_error.agitation_correlation
        common = np.sqrt(share) * scipy.special.ndtri(column["all agitation"])
        return {
            row.name: scipy.special.ndtr(
                common + np.sqrt(1.0 - share) * scipy.special.ndtri(column[row.name])
            )
            for row in self._agitations
        }

    def _errors(self, column: Mapping[str, Floats]) -> Floats:
        """Forecast errors that fade into each other over hours, (sample, knot, kind)."""
        along_s = self._forecast_error.correlation_h * 3600.0
        if self._steady:
            mix = _ring_mix(along_s)[np.round(self.knots_s / KNOT_S).astype(np.int64) % RING]
        else:
            gap = np.abs(self.knots_s[:, None] - self.knots_s) / along_s
            mix = np.linalg.cholesky(np.exp(-gap))
        free = np.stack(
            [[scipy.special.ndtri(column[f"{kind} {i}"]) for kind in KINDS] for i in range(mix.shape[1])]
        )
        return np.asarray(np.einsum("ij,jkd->dik", mix, free), dtype=np.float64)


def _knots_s(first_s: float, last_s: float, *, steady: bool) -> Floats:
    """Instants at which the forecast's error is drawn."""
    if not steady:
        return np.arange(first_s, last_s + KNOT_S, KNOT_S)
    return KNOT_S * np.arange(np.floor(first_s / KNOT_S), np.ceil(last_s / KNOT_S) + 1.0)


def _ring_mix(along_s: float) -> Floats:
    """What makes independent errors of a ring of knots fade into each other, (knot, knot); every knot is like another.

    The root of a covariance that falls with the way round the ring; that of an exponential is a covariance there too.
    """
    steps = np.arange(RING)
    row = np.exp(-KNOT_S * np.minimum(steps, RING - steps) / along_s)
    root = np.fft.ifft(np.sqrt(np.maximum(np.fft.fft(row).real, 0.0))).real
    return np.asarray(root[(steps[:, None] - steps) % RING])


MATTERING = ("frame_bees_factor", "rest_heat_w_kg", "worker_t50_c", "fan_mesh_share", "closed_at_night_gain")
"""Rows beside the activities that move most trips most: they are spread together with what matters as much."""

SCATTERED = {f"scatter {BEES}": "frame_bees_factor", f"scatter {ACTIVITY}": "all", f"scatter {LEAK}": "leak"}
"""The unknown whose subject is that of the scatter of each thing."""

MOST_SCATTER = 2.5
"""Standard deviations beyond which no load or box differs from the common run."""


def narrowed_ranks(
    posterior: Posterior, names: Sequence[str], column: Mapping[str, Floats]
) -> dict[str, Floats]:
    """Ranks 0..1 of the numbers that the trade leaves together, each ``(sample,)``."""
    if not names:
        return {}
    mix = np.linalg.cholesky(posterior.correlation_of(tuple(names)))
    ranks = scipy.special.ndtr(mix @ np.stack([scipy.special.ndtri(column[name]) for name in names]))
    return dict(zip(names, ranks, strict=True))


def narrowed_values(
    posterior: Posterior, ranks: Mapping[str, Floats], column: Mapping[str, Floats]
) -> dict[str, Floats]:
    """Numbers at their ranks in what the trade leaves of them, with the scatter of loads and boxes on top."""
    values = {name: np.interp(at, LEVELS, posterior.rows[name].posterior) for name, at in ranks.items()}
    deviation = {
        what: sd * np.clip(scipy.special.ndtri(column[f"scatter {what}"]), -MOST_SCATTER, MOST_SCATTER)
        for what, sd in posterior.scatter.items()
    }
    return scattered(values, deviation, {name: posterior.rows[name].range for name in values})


def scattered(
    values: Mapping[str, Floats],
    deviation: Mapping[str, Floats],
    ranges: Mapping[str, tuple[float, float]],
) -> dict[str, Floats]:
    """Values of loads and boxes that deviate from the common run, by the logarithm of bees, activity and leak.

    ``ranges`` low and high of each number as published. They already are what boxes are said to be, so a box that
    deviates stays within them: none makes less heat than resting bees, none is more alive than any range allows.
    """
    found = dict(values)
    for name, value in values.items():
        if name == LEAK and LEAK in deviation:
            found[name] = np.clip(value + deviation[LEAK], -MOST_LEAK, MOST_LEAK)
        elif scatter_of(name) in deviation:
            found[name] = np.clip(value * np.exp(deviation[scatter_of(name)]), *ranges[name])
    return found


MOST_LEAK = 1.5
"""As far beyond its range, in the logarithm, as a box may leak."""


def _sampled(row: ParameterRow) -> bool:
    return row.low < row.high and subject_of(row.name) is not None


# -- integrating samples -----------------------------------------------------------------------


@dataclass(frozen=True)
class Scenario:
    """What a batch of samples needs beside the samples themselves; plain data, fit to be sent to another process.

    ``weathers`` one or an ensemble; ``leaks`` (variant, 3) L/s usual, low, high; ``place_names`` the loading
    places in the order of the sample's columns; ``issued_s`` when the forecast was made, NaN if it is none; ``ways``
    the grid on each way the boxes may go and how its stages lean, where there are several.
    """

    grid: CaseGrid
    weathers: tuple[Weather, ...]
    leaks: Floats
    place_names: tuple[str, ...]
    forecast_error: ForecastError
    ways: tuple[tuple[CaseGrid, float], ...] = ()


@dataclass(frozen=True)
class SampleOutcomes:
    """What happened in the samples; axes ``(candidate, sample)``.

    ``group_level`` (candidate, sample, group, verdict) the five verdicts of each group; ``peak_c`` of the hottest
    box; ``headroom_k`` the least that any box's own history has to spare, negative just where one is harmed;
    ``harm_h`` hours from closing to the first harm, NaN where there is none.
    """

    group_level: np.ndarray
    peak_c: np.ndarray
    headroom_k: np.ndarray
    harm_h: np.ndarray

    @property
    def level(self) -> np.ndarray:
        """Worst of the five verdicts over all groups, (candidate, sample, verdict)."""
        return np.asarray(self.group_level.max(axis=2))


@dataclass(frozen=True)
class SimulatedSamples:
    """One integrated batch of samples: ``(case,)`` with the groups innermost, then samples, then candidates."""

    batch: SimulatedBatch
    shape: tuple[int, int, int]

    @cached_property
    def judged(self) -> Assessment:
        return self.batch.assessed(self.batch.step_s)

    @property
    def seen(self) -> Histories:
        return self.batch.seen

    @property
    def time_s(self) -> Floats:
        return self.batch.time_s


def ways_of(sample: Sample) -> list[tuple[int, Ints]]:
    """The ways that occur among some samples, each with the samples that take it."""
    if sample.way is None:
        return [(0, np.arange(sample.samples))]
    return [(way, np.flatnonzero(sample.way == way)) for way in np.unique(sample.way).tolist()]


def on_way(scenario: Scenario, timeline: Timeline, way: int) -> tuple[Scenario, Timeline]:
    """The same departures where boxes go one of the ways they may go, its stages as long as it has them."""
    if not scenario.ways:
        return scenario, timeline
    grid, lean = scenario.ways[way]
    grid = replace(grid, place_of=scenario.grid.place_of, weather=scenario.grid.weather)
    rides = build_timeline(grid.trip, grid.road, timeline.departure_s, timeline.closed_s, lean)
    return replace(scenario, grid=grid), rides


def sampled(
    scenario: Scenario, timeline: Timeline, night: Floats, candidates: Ints, sample: Sample
) -> SampleOutcomes:
    """Judge every candidate in every sample.

    Parameters
    ----------
    timeline, night : the departures that ``candidates`` index
    candidates : (candidate, 3) departure, place, set-up
    sample : the samples
    """
    shape = candidates.shape[0], sample.samples
    level = np.full((*shape, scenario.grid.groups, 5), UNKNOWN, dtype=np.int8)
    peak, headroom, harm = (np.full(shape, np.nan, dtype=np.float32) for _ in range(3))
    closed_s = timeline.closed_s[candidates[:, 0]][:, None, :]
    for (way, takers), (member, weather) in product(ways_of(sample), enumerate(scenario.weathers)):
        rows = takers[sample.member[takers] == member]
        if rows.size == 0:
            continue
        under, rides = on_way(scenario, timeline, way)
        alone = replace(under, grid=replace(under.grid, weather=weather))
        simulated = evaluate_samples(alone, rides, night, candidates, sample.take(rows))
        cut, judged = simulated.shape, simulated.judged
        level[:, rows] = judged.verdict.reshape((*cut, -1))
        peak[:, rows] = judged.peak_core_c.reshape(cut).max(axis=2)
        headroom[:, rows] = judged.headroom_k.reshape(cut).min(axis=2)
        first_h = (judged.first_harm_s.reshape(cut) - closed_s) / 3600.0
        none = np.isnan(first_h).all(axis=2)
        harm[:, rows] = np.where(none, np.nan, np.nan_to_num(first_h, nan=np.inf).min(axis=2))
    return SampleOutcomes(level, peak, headroom, harm)


def evaluate_samples(
    scenario: Scenario,
    timeline: Timeline,
    night: Floats,
    candidates: Ints,
    sample: Sample,
    *,
    step_s: float = STEP_S,
) -> SimulatedSamples:
    """Integrate candidates x samples x groups under the grid's own weather."""
    grid = scenario.grid
    table = cases_of(candidates, sample.samples, grid.groups)
    middle_s = 0.5 * (timeline.departure_s + timeline.arrive_s[:, -1])
    variations = variations_of(scenario, sample, middle_s)
    batch = simulate(lay_out(grid, timeline, night, table, variations, step_s=step_s), step_s)
    shape = len(candidates), sample.samples, grid.groups
    return SimulatedSamples(batch, shape)


def variations_of(scenario: Scenario, sample: Sample, middle_s: Floats) -> Variations:
    """What differs from sample to sample; ``middle_s`` (row,) the middle of each row of the timeline, POSIX seconds."""
    air_offset_k, sun_factor, wind_factor = _weather_errors(scenario, middle_s, sample)
    column = [scenario.place_names.index(place.name) for place in scenario.grid.places]
    return Variations(
        parameters=sample.values,
        leak_m3_s=_leak(scenario.leaks[:, None], sample.leak),
        place_offset_k=sample.place[:, column] * scenario.grid.band_k,
        air_offset_k=air_offset_k,
        sun_factor=sun_factor,
        wind_factor=wind_factor,
    )


def _leak(ranges: Floats, position: Floats) -> Floats:
    """Leakage m3/s at positions -1..1 between the low and the high of a box (usual, low, high), in the logarithm."""
    usual, low, high = np.moveaxis(np.log(np.maximum(ranges, 1e-6)), -1, 0)
    towards = np.where(position < 0.0, usual - low, high - usual)
    return np.asarray(np.exp(usual + position * towards) * 1e-3)


def _weather_errors(scenario: Scenario, middle: Floats, sample: Sample) -> tuple[Floats, Floats, Floats]:
    """Error of the air in K and factors on sun and wind, each (row, sample), at the middle of each trip."""
    forecast_error, lead_h = scenario.forecast_error, lead_hours(scenario, middle)
    at = np.clip(np.interp(middle, sample.knots_s, np.arange(sample.knots_s.size)), 0, None)
    low = np.minimum(at.astype(np.int64), sample.knots_s.size - 1)
    high = np.minimum(low + 1, sample.knots_s.size - 1)
    share = at - low
    alike = np.exp(-KNOT_S / (forecast_error.correlation_h * 3600.0))
    even = np.sqrt((1.0 - share) ** 2 + share**2 + 2.0 * share * (1.0 - share) * alike)
    between = sample.error[:, low] * (1.0 - share)[:, None] + sample.error[:, high] * share[:, None]
    error = np.moveaxis(between / np.where(high > low, even, 1.0)[:, None], 2, 0)  # (kind, sample, departure)
    air, sun, wind = (error[i].T * forecast_error.sd(kind, lead_h)[:, None] for i, kind in enumerate(KINDS))
    return air, np.minimum(np.exp(sun), forecast_error.sun_most), np.exp(wind)


def lead_hours(scenario: Scenario, instant_s: Floats) -> Floats:
    """How far ahead the forecast looks, hours; an ensemble's own spread stands for its lead."""
    weather, forecast_error = scenario.weathers[0], scenario.forecast_error
    if len(scenario.weathers) > 1:
        return np.zeros_like(instant_s)
    if np.isfinite(weather.issued_s):
        return np.maximum((instant_s - weather.issued_s) / 3600.0, 0.0)
    return np.full_like(
        instant_s, forecast_error.no_lead_h.get(weather.kind, forecast_error.no_lead_h["own"])
    )
