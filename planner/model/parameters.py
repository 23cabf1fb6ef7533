"""The numbers of the heat model: one row each with value, range, unit, evidence grade and source.

The code holds no tuning number; ``resources/parameters.toml`` does. ``Parameters`` is the same table as
plain arrays that broadcast against the case axis, so any number may differ from case to case.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields

import numpy as np

from planner.model.records import Floats, Grade

AGITATIONS = ("calm", "typical", "agitated")
"""How agitated the bees are: the rows marked ``agitation`` moved down, left alone, moved up together."""

TYPICAL = AGITATIONS.index("typical")


@dataclass(frozen=True, slots=True)
class ParameterRow:
    """One number of the model: ``low`` and ``high`` bound it, ``grade`` A (measured) to D (estimate)."""

    name: str
    value: float
    low: float
    high: float
    unit: str
    grade: Grade
    source: str
    agitation: bool = False
    log: bool = False
    note: str = ""


@dataclass(frozen=True)
class Parameters:
    """All numbers of the model as arrays, 0-d or ``(case,)``; units as in the table."""

    # how many bees
    bee_mass_kg: Floats
    frame_bees_factor: Floats
    closed_at_night_gain: Floats
    # heat of adults
    rest_heat_w_kg: Floats
    rest_heat_per_k: Floats
    rest_low_c: Floats
    rest_plateau_c: Floats
    activity_resting: Floats
    activity_waiting: Floats
    activity_idling: Floats
    activity_driving: Floats
    activity_jolt: Floats
    jolt_decay_s: Floats
    agitation_reach: Floats
    agitation_start_c: Floats
    agitation_span_k: Floats
    agitation_gain: Floats
    co2_restless_span: Floats
    quiet_share: Floats
    quiet_from_c: Floats
    quiet_span_k: Floats
    fanning_w_kg: Floats
    stale_from_share: Floats
    stale_span_share: Floats
    stale_core_c: Floats
    stale_core_span_k: Floats
    heat_ceiling_w_kg: Floats
    # cold limb
    shiver_max_w_kg: Floats
    brood_hold_c: Floats
    hold_band_k: Floats
    cluster_hold_c: Floats
    cluster_draw_c: Floats
    cluster_band_k: Floats
    packed_w_mk: Floats
    packed_volume_m3_kg: Floats
    mantle_film_w_m2k: Floats
    mantle_film_per_root: Floats
    comb_gap_share: Floats
    screen_draught_share: Floats
    brood_frame_edge_m: Floats
    brood_frame_pitch_m: Floats
    loose_cluster_factor: Floats
    cluster_volume_m3_kg: Floats
    # brood
    larvae_w_per_1000: Floats
    sealed_w_per_1000: Floats
    brood_q10: Floats
    brood_constant_above_c: Floats
    brood_fill_share: Floats
    brood_mass_kg: Floats
    # fanning
    fan_start_c: Floats
    fan_full_c: Floats
    fan_share: Floats
    fan_flow_m3_s: Floats
    fan_draught_share: Floats
    fan_face_speed_ms: Floats
    fan_max_m3_s: Floats
    fan_places_per_m: Floats
    fan_rows: Floats
    fan_mesh_share: Floats
    fan_moving_share: Floats
    fan_beard_share: Floats
    entrance_height_m: Floats
    # bees at liberty
    beard_share: Floats
    beard_start_c: Floats
    beard_span_k: Floats
    foragers_share: Floats
    flight_from_c: Floats
    flight_sun_w_m2: Floats
    fetch_g_h_kg: Floats
    # honey within reach
    crop_honey_kg: Floats
    honey_j_kg: Floats
    fuel_last_s: Floats
    hungry_j_kg: Floats
    starving_h: Floats
    # evaporation
    evaporation_start_c: Floats
    evaporation_full_c: Floats
    evaporation_max_w_kg: Floats
    crop_water_kg: Floats
    gorged_water_kg: Floats
    cuticle_w_kg: Floats
    exit_saturation: Floats
    water_last_s: Floats
    mist_evaporation_s: Floats
    soaked_share: Floats
    syrup_water_share: Floats
    # heat stores
    bees_j_kgk: Floats
    brood_j_kgk: Floats
    honey_j_kgk: Floats
    wax_j_kgk: Floats
    wood_j_kgk: Floats
    film_w_m2k: Floats
    spread_w_kgk: Floats
    comb_gap_w_m2k: Floats
    start_brood_c: Floats
    start_broodless_c: Floats
    start_stores_share: Floats
    stores_lag_h: Floats
    start_most_c: Floats
    # openings
    discharge_mesh: Floats
    discharge_open: Floats
    crack_s_m: Floats
    gummed_crack_share: Floats
    single_sided: Floats
    cooper: Floats
    mesh_porosity: Floats
    foam_porosity: Floats
    bee_cover_share: Floats
    dead_block_share: Floats
    flat_floor_share: Floats
    # walls and sun
    inside_film_m2k_w: Floats
    outside_film_still_w_m2k: Floats
    outside_film_per_speed: Floats
    outside_radiation_w_m2k: Floats
    ground_albedo: Floats
    screen_sun_share: Floats
    lid_emissivity: Floats
    # where it rides
    sun_fast_share: Floats
    sun_fast_s: Floats
    sun_slow_s: Floats
    arrival_sun_share: Floats
    skin_speed_stated_ms: Floats
    skin_speed_most_ms: Floats
    shade_share: Floats
    net_speed_factor: Floats
    net_pressure_factor: Floats
    net_sun_factor: Floats
    wetting_rain_mm_h: Floats
    film_lag_s: Floats
    person_w: Floats
    climate_lag_s: Floats
    deck_lag_s: Floats
    creep_speed_ms: Floats
    skin_film_w_m2k: Floats
    sun_offset_reference_w_m2: Floats
    row_stated_k: Floats
    # gases
    co2_m3_per_j: Floats
    ambient_co2_share: Floats
    person_co2_m3_s: Floats
    # doses
    brood_dose_h: Floats
    brood_dose_c: Floats
    brood_dose_z_k: Floats
    brood_dose_floor_c: Floats
    brood_cold_h: Floats
    brood_cold_c: Floats
    brood_cold_z_k: Floats
    brood_cold_floor_c: Floats
    sperm_loss_per_h: Floats
    sperm_loss_c: Floats
    sperm_loss_z_k: Floats
    sperm_loss_floor_c: Floats
    sperm_cold_per_h: Floats
    sperm_cold_c: Floats
    sperm_cold_z_k: Floats
    sperm_cold_floor_c: Floats
    worker_t50_h: Floats
    worker_t50_c: Floats
    worker_t50_z_k: Floats
    worker_dose_floor_c: Floats
    worker_humid_factor: Floats
    humid_from_share: Floats
    humid_span_share: Floats
    dry_below_kg: Floats
    death_steepness: Floats
    coma_lethal_h: Floats
    # limits
    brood_caution_c: Floats
    brood_warn_dose: Floats
    brood_harm_dose: Floats
    brood_danger_c: Floats
    queen_safe_c: Floats
    queen_warn_loss: Floats
    queen_harm_loss: Floats
    worker_caution_c: Floats
    worker_danger_c: Floats
    worker_warn_dead: Floats
    worker_harm_dead: Floats
    ruined_dead: Floats
    new_comb_caution_c: Floats
    new_comb_danger_c: Floats
    old_comb_caution_c: Floats
    old_comb_danger_c: Floats
    brood_chill_c: Floats
    brood_chill_h: Floats
    brood_edge_share: Floats
    mantle_chill_c: Floats
    coma_core_c: Floats
    coma_core_h: Floats
    coma_mantle_c: Floats
    coma_mantle_h: Floats
    mantle_share: Floats
    freezing_c: Floats
    co2_alert_share: Floats
    co2_danger_share: Floats
    driver_co2_caution_share: Floats
    driver_co2_alert_share: Floats
    no_mist_below_c: Floats
    action_before_danger_k: Floats


NAMES = tuple(field.name for field in fields(Parameters))


@dataclass(frozen=True)
class ParameterTable:
    """Every row by name; complete by construction (missing or unknown names are the reader's to report).

    ``rows`` are as published. ``narrowed`` are those of which judgement leaves less, with what it leaves as value,
    low and high: what is typical and how far bees go from calm to agitated is read from them, as samples read it, so
    that one curve and the many agree.
    """

    rows: Mapping[str, ParameterRow]
    narrowed: Mapping[str, ParameterRow] = field(default_factory=dict)

    def published(self) -> ParameterTable:
        """The table before any judgement."""
        return ParameterTable(self.rows)

    def believed(self, name: str) -> ParameterRow:
        """A row as judgement leaves it; as published where there is none of it."""
        return self.narrowed.get(name) or self.rows[name]

    def with_values(self, values: Mapping[str, Floats] | None = None) -> Parameters:
        """Typical values, except where ``values`` gives an array for a name."""
        given = values or {}
        return Parameters(
            **{
                name: np.asarray(
                    given[name] if name in given else self.believed(name).value, dtype=np.float64
                )
                for name in NAMES
            }
        )

    def typical(self) -> Parameters:
        """Every number at its typical value."""
        return self.with_values()

    def at_agitation(self, agitation: Floats | float) -> Parameters:
        """Parameters for bees of the given agitation, per case.

        Parameters
        ----------
        agitation : (case,) or scalar, -1 calm, 0 typical, +1 agitated; the rows marked ``agitation`` go together
            that way, by the share ``agitation_reach`` of their range (geometrically when marked ``log``).
        """
        return self.with_values(self.agitation_values(agitation))

    def agitation_values(self, agitation: Floats | float) -> dict[str, Floats]:
        """The rows that go with the bees' agitation, at levels as in ``at_agitation``."""
        at = np.asarray(agitation, dtype=np.float64) * self.rows["agitation_reach"].value
        return {
            row.name: in_range(self.believed(row.name), at) for row in self.rows.values() if row.agitation
        }


def in_range(row: ParameterRow, at: Floats) -> Floats:
    """The row's low, value, high at -1, 0, +1, and between them in the scale the row is known in."""
    nodes = np.array([row.low, row.value, row.high])
    if row.log:
        return np.asarray(np.exp(np.interp(at, (-1.0, 0.0, 1.0), np.log(nodes))))
    return np.asarray(np.interp(at, (-1.0, 0.0, 1.0), nodes))
