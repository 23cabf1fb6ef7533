/* What is handed over and back, and what a block of cases holds. */

#ifndef TABLES_H
#define TABLES_H

#include "arithmetic.h"
/* -- what is handed over: one list a table, in the order of the struct and of the pointers --------------------- */

#define CASE_FIELDS(X) X(air_offset_k) X(place_offset_k) X(sun_factor) X(wind_factor)

#define BOX_FIELDS(X)                                                                                               \
  X(count) X(bees_kg) X(rest_w) X(ceiling_w) X(shiver_w) X(brood_w) X(evaporation_w) X(cuticle_w) X(core_j_k)       \
  X(stores_j_k) X(core_w_k) X(cluster_m2) X(packed_w_m2k) X(draught_m2) X(spread_w_k) X(stores_w_k) X(between_w_k)  \
  X(hold_c) X(tighten_from_c) X(tighten_span_k) X(lid_m2) X(lid_m2k_w) X(body_m2) X(body_m2k_w) X(long_side_m2)     \
  X(short_side_m2) X(absorptance) X(sun_transmittance) X(screen_sun_m2) X(buoyant_m6_s2_k) X(through_m2)            \
  X(single_m2) X(fan_m3_s) X(fan_flow_m3_s) X(leak_m3_s) X(dead_block_share) X(open_entrance) X(fetch_kg_s)         \
  X(water_kg) X(mist_kg) X(mist_first_s) X(mist_every_s) X(under_screen) X(vain_w) X(wet_kg) X(soaked_kg)

#define PARAMETER_FIELDS(X)                                                                                         \
  X(rest_heat_per_k) X(rest_low_c) X(rest_plateau_c) X(activity_resting) X(activity_waiting) X(activity_idling)     \
  X(activity_driving) X(activity_jolt) X(jolt_decay_s) X(agitation_start_c) X(agitation_span_k) X(agitation_gain)   \
  X(co2_restless_span) X(hold_band_k) X(mantle_film_w_m2k) X(mantle_film_per_root) X(brood_q10)                     \
  X(brood_constant_above_c) X(fan_start_c) X(fan_full_c) X(fan_moving_share) X(fan_beard_share) X(beard_share)      \
  X(beard_start_c) X(beard_span_k) X(foragers_share) X(flight_from_c) X(flight_sun_w_m2) X(fuel_last_s)             \
  X(hungry_j_kg) X(starving_h) X(evaporation_start_c) X(evaporation_full_c) X(exit_saturation) X(water_last_s)      \
  X(mist_evaporation_s) X(inside_film_m2k_w) X(outside_film_still_w_m2k) X(outside_film_per_speed)                  \
  X(outside_radiation_w_m2k) X(skin_film_w_m2k) X(co2_m3_per_j) X(ambient_co2_share) X(worker_t50_h)                \
  X(worker_t50_c) X(worker_t50_z_k) X(worker_dose_floor_c) X(worker_humid_factor) X(humid_from_share)               \
  X(humid_span_share) X(dry_below_kg) X(death_steepness) X(coma_core_c) X(co2_alert_share) X(no_mist_below_c)    \
  X(stale_from_share) X(stale_span_share) X(stale_core_c) X(stale_core_span_k) X(quiet_from_c) X(quiet_span_k)      \
  X(quiet_share) X(row_stated_k)

#define AIR_FIELDS(X)                                                                                               \
  X(base_c) X(sun_rise_k) X(least_c) X(resistance_k_w) X(stack_share) X(outside_c) X(skin_share) X(skin_m3_s)       \
  X(breath_m3_s) X(bare_share) X(wet_share) X(speed_ms) X(pressure_root) X(lid_w_m2) X(flank_w_m2) X(end_w_m2)      \
  X(sky_w_m2) X(change_per_s) X(volume_m3) X(vapour_kg_m3) X(heat_j_m3k) X(ghi_w_m2) X(on_board)

#define VEHICLE_FIELDS(X) X(closed) X(moving) X(on_board) X(engine_on) X(shaking) X(since_jolt_s) X(riding_s)

#define STATE_FIELDS(X)                                                                                             \
  X(core_c) X(stores_c) X(water_kg) X(mist_kg) X(fuel_j) X(worker_dose) X(around_kg_m3) X(warming_k) X(shared_w)    \
  X(vapour_kg_s) X(skin_kg_m3) X(co2_share)

#define FORCING_FIELDS(X)                                                                                           \
  X(base_c) X(least_c) X(resistance_k_w) X(stack_share) X(skin_base_c) X(skin_share) X(skin_m3_s) X(weight)         \
  X(walls_w_k) X(sun_w) X(wind_m6_s2) X(activity) X(heat_j_m3k) X(tight_w_k) X(drop_share) X(jolt) X(inside)        \
  X(free) X(fan_share) X(fetch_kg_s) X(vapour_kg_m3) X(vapour_gain) X(vapour_keep_half) X(skin_keep_half)           \
  X(breath_m3_s) X(active_s) X(mist_kg)

#define RATES_FIELDS(X)                                                                                             \
  X(core_k_s) X(stores_k_s) X(water_kg_s) X(mist_kg_s) X(fuel_w) X(warming_k) X(shared_w) X(mantle_c) X(skin_kg_m3) \
  X(box_air_c) X(local_c) X(flow_m3_s) X(adults_w) X(brood_w) X(evaporation_w) X(saturated_kg_m3) X(wanted_w)       \
  X(between_w_k)

/* What may be kept: at nodes (time + 1, case), and of steps (time, case). */
#define NODE_FIELDS(X) X(core_c) X(stores_c) X(around_kg_m3) X(co2_share) X(water_kg) X(worker_dose)
#define STEP_FIELDS(X)                                                                                              \
  X(mantle_c) X(box_air_c) X(local_c) X(flow_m3_s) X(adults_w) X(brood_w) X(evaporation_w) X(wanted_w)              \
  X(saturated_kg_m3) X(walls_w) X(air_w) X(sun_w)

/* Judging: columns beside those above, sums over the steps, and what comes out (limits.Assessment). */
#define JUDGED_BOX_FIELDS(X) X(has_brood) X(has_comb) X(new_comb) X(brood_reach)

#define JUDGED_PARAMETER_FIELDS(X)                                                                                  \
  X(brood_dose_h) X(brood_dose_c) X(brood_dose_z_k) X(brood_dose_floor_c) X(brood_cold_h) X(brood_cold_c)           \
  X(brood_cold_z_k) X(brood_cold_floor_c) X(sperm_loss_per_h) X(sperm_loss_c) X(sperm_loss_z_k)                     \
  X(sperm_loss_floor_c) X(sperm_cold_per_h) X(sperm_cold_c) X(sperm_cold_z_k) X(sperm_cold_floor_c) X(worker_t50_h) \
  X(worker_t50_c) X(worker_t50_z_k) X(worker_dose_floor_c) X(death_steepness) X(coma_lethal_h) X(brood_caution_c)   \
  X(brood_warn_dose) X(brood_harm_dose) X(brood_danger_c) X(queen_safe_c) X(queen_warn_loss) X(queen_harm_loss)     \
  X(worker_caution_c) X(worker_danger_c) X(worker_warn_dead) X(worker_harm_dead) X(ruined_dead)                     \
  X(new_comb_caution_c) X(new_comb_danger_c) X(old_comb_caution_c) X(old_comb_danger_c) X(brood_chill_c)            \
  X(brood_chill_h) X(brood_edge_share) X(mantle_chill_c) X(coma_core_c) X(coma_core_h) X(coma_mantle_c)             \
  X(coma_mantle_h) X(mantle_share) X(freezing_c) X(co2_m3_per_j)

#define SUM_FIELDS(X)                                                                                               \
  X(peak_step) X(closed_steps) X(shaken_steps) X(core_37) X(core_38) X(core_40) X(core_42) X(core_45)               \
  X(comb_caution) X(comb_danger) X(coma_steps) X(chilled_steps) X(chill_caution) X(chill_danger) X(evaporated_j)    \
  X(short_j) X(peak_co2) X(peak_around_co2) X(peak_humidity) X(brood_heat_taken) X(brood_cold_taken)                \
  X(sperm_heat_taken) X(sperm_cold_taken)

#define OUTCOME_FIELDS(X)                                                                                           \
  X(peak_core_c) X(peak_stores_c) X(low_core_c) X(low_mantle_c) X(low_brood_c) X(peak_step) X(first_harm_step)      \
  X(hotter_k) X(colder_k) X(water_ml) X(water_short_ml) X(brood_dose) X(brood_cold_dose) X(sperm_loss_share)        \
  X(worker_dose) X(dead_share) X(ruined) X(chilled) X(peak_co2_share) X(peak_around_co2_share)                      \
  X(peak_humidity_share) X(brood) X(queen) X(workers) X(comb) X(chill) X(core_37) X(core_38) X(core_40) X(core_42)  \
  X(core_45) X(comb_caution) X(comb_danger) X(chill_caution) X(chill_danger)

/* What of a place's air is the same for all its boxes, formed where the tables are read. */
#define FORMED_FIELDS(X) X(vapour_gain) X(vapour_keep_half) X(skin_keep_half)

#define ONE_MORE(name) +1
enum {
  AIR_COUNT = 0 AIR_FIELDS(ONE_MORE),
  FORMED_COUNT = 0 FORMED_FIELDS(ONE_MORE),
  VEHICLE_COUNT = 0 VEHICLE_FIELDS(ONE_MORE),
  OUTCOME_COUNT = 0 OUTCOME_FIELDS(ONE_MORE)
};

#define LANES_OF(name) Lanes name;
#define NAME_OF(name) #name " "

typedef struct { CASE_FIELDS(LANES_OF) } Shift;
typedef struct { BOX_FIELDS(LANES_OF) } Boxes;
typedef struct { PARAMETER_FIELDS(LANES_OF) } Parameters;
typedef struct { AIR_FIELDS(LANES_OF) FORMED_FIELDS(LANES_OF) } Air;
typedef struct { VEHICLE_FIELDS(LANES_OF) } Vehicle;
typedef struct { STATE_FIELDS(LANES_OF) } State;
typedef struct { FORCING_FIELDS(LANES_OF) } Forcing;
typedef struct { RATES_FIELDS(LANES_OF) } Rates;
typedef struct { JUDGED_BOX_FIELDS(LANES_OF) } JudgedBoxes;
typedef struct { JUDGED_PARAMETER_FIELDS(LANES_OF) } JudgedParameters;

/* A column of numbers, one a case, or one for all where the stride is 0. */
typedef struct {
  const double *at;
  int64_t stride;
} Column;

/* A table (time, place) or (time, track) as it lies in memory, with the numbers from one row and column to the next. */
typedef struct {
  const double *at;
  int64_t row, column;
} Table;

/* Everything of one call; tables are (time, place) and (time, track), kept histories may be NULL. */
typedef struct {
  int64_t cases, steps;
  double step_s;
  int64_t detail; /* means of both evaluations rather than the first */
  const int64_t *place, *track, *enclosure, *order;
  const Column *shift, *boxes, *parameters;
  const Table *air, *vehicle;
  double *const *state; /* of the beginning; of the end after the call */
  double *const *nodes, *const *seen;
  const Column *judged_boxes, *judged_parameters;
  double *const *outcomes; /* (case,) each, or NULL where nothing is judged */
} Job;

EXPORT const char *fields_of_cases(void) { return CASE_FIELDS(NAME_OF); }
EXPORT const char *fields_of_boxes(void) { return BOX_FIELDS(NAME_OF); }
EXPORT const char *fields_of_parameters(void) { return PARAMETER_FIELDS(NAME_OF); }
EXPORT const char *fields_of_air(void) { return AIR_FIELDS(NAME_OF); }
EXPORT const char *fields_of_formed(void) { return FORMED_FIELDS(NAME_OF); }
EXPORT const char *fields_of_vehicle(void) { return VEHICLE_FIELDS(NAME_OF); }
EXPORT const char *fields_of_state(void) { return STATE_FIELDS(NAME_OF); }
EXPORT const char *fields_of_forcing(void) { return FORCING_FIELDS(NAME_OF); }
EXPORT const char *fields_of_rates(void) { return RATES_FIELDS(NAME_OF); }
EXPORT const char *fields_of_nodes(void) { return NODE_FIELDS(NAME_OF); }
EXPORT const char *fields_of_steps(void) { return STEP_FIELDS(NAME_OF); }
EXPORT const char *fields_of_judged_boxes(void) { return JUDGED_BOX_FIELDS(NAME_OF); }
EXPORT const char *fields_of_judged_parameters(void) { return JUDGED_PARAMETER_FIELDS(NAME_OF); }
EXPORT const char *fields_of_outcomes(void) { return OUTCOME_FIELDS(NAME_OF); }

#ifndef SOURCE_HASH
#define SOURCE_HASH "unknown"
#endif
EXPORT const char *made_of(void) { return SOURCE_HASH; }
/* -- a block of cases ------------------------------------------------------------------------------------------- */

/* One response of the bees: rises from from_c by per_k up to most. */
typedef struct {
  Lanes from_c, per_k, most;
} Response;

/* Heat that grows e-fold every 1 / per_k between two temperatures; heat_w is that of 0 C. */
typedef struct {
  Lanes heat_w, per_k, from_c, to_c;
} Heat;

/* bees.BeeCoefficients and balance.Coefficients */
typedef struct {
  Response restless, shivering_w, tightness, spread_w_k, fanning_m3_s, wanted, beard, awake, vain_w, quiet;
  Heat resting, brood;
  Lanes water_end_w_kg, mist_w_kg, fuel_end_per_s, skin_j_m3k_kg, bearded_fanning, confined;
  Lanes worker_per_s, worker_per_k, worker_floor_per_s, starved_per_s, hungry_per_j;
  Lanes soaked_per_kg, water_per_kg, core_k_j, stores_k_j, humid_per_share, restless_per_share, stale_per_share;
  Lanes dry_per_kg, draught_per_m2, packed_w_k, jolt_per_s, per_stated_k; /* divided once, not in every step */
} Coefficients;

/* What one half of the balance hands to the other, across the sums over an enclosure. */
typedef struct {
  Lanes bearded, at_work, cuticle_w, film, source, flow, escape, own, given, felt, latent_w, skin;
  Lanes rise_k, per_w, tightness, restless, shivering_w, wanted, awake, vain_w, quiet, most_m3_s, fanned_m3_s;
} Half;

/* doses.DoseLaw */
typedef struct {
  Lanes per_s, at_c, per_k, tenth_k, floor_c, floor_per_s;
} Law;

/* What judging carries through the steps: laws, limits, extremes, sums. */
typedef struct {
  Law brood_heat, brood_cold, sperm_heat, sperm_cold, worker_heat;
  Lanes comb_caution_c, comb_danger_c, edge_share, hot_c;
  Lanes peak, stores_peak, warmest, low, mantle_low, shaken_low, edge_low, coolest;
  SUM_FIELDS(LANES_OF)
} Watch;

/* What judging sees of a step. */
typedef struct {
  const double *closed, *moving, *core_before_c, *core_c, *stores_before_c, *stores_c, *mantle_c, *flow_m3_s;
  const double *evaporation_w, *wanted_w, *adults_w, *saturated_kg_m3, *around_kg_m3, *co2_share;
} Seen;

typedef struct {
  int lanes; /* in use; the others repeat the last case and are not kept */
  int64_t here[LANES], place[LANES], track[LANES], enclosure[LANES];
  int any_mist, dying;
  Shift shift;
  Boxes box;
  Parameters p;
  Coefficients k;
  int one_place, one_track; /* all of them there */
  const Air *air;           /* of the step */
  const Vehicle *vehicle;
  Air airs[READ_STEPS]; /* of the steps read together */
  Vehicle vehicles[READ_STEPS];
  Forcing forcing;
  State state, now;
  Lanes alive, shared_given, shared_made;
  Half half;
  Rates first, second;
  JudgedBoxes judged_box;
  JudgedParameters judged_p;
  Watch watch;
  Lanes *core_c, *stores_c, *mantle_c, *closed, *shaken; /* of every step, for a second look */
} Block;

/* Several blocks whose cases share enclosures among themselves and with nobody else; mostly one. */
typedef struct {
  const Job *job;
  Block *blocks;
  int count, sharing;
  int64_t first, last; /* steps walked */
  double *sums, *ordered;
} Team;

#define ALL_BLOCKS for (Block *b = team->blocks, *end = b + team->count; b < end; b++)

/* balance.EnclosureSum.total: the sum over all cases of the enclosure of each case */
#define TOTAL(member)                                                                                               \
  if (team->sharing) {                                                                                              \
    ALL_BLOCKS for (int c = 0; c < b->lanes; c++) team->sums[b->enclosure[c]] = 0.0;                                \
    ALL_BLOCKS for (int c = 0; c < b->lanes; c++) team->sums[b->enclosure[c]] += b->member[c];                      \
    ALL_BLOCKS for (int c = 0; c < LANES; c++) b->member[c] = team->sums[b->enclosure[c]];                          \
  }

INLINE void response(Response *r, int c, double from_c, double span_k, double most) {
  r->from_c[c] = from_c;
  r->per_k[c] = most / span_k;
  r->most[c] = most;
}

INLINE double answer(const Response *r, int c, double core_c) {
  return at_most(at_least((core_c - r->from_c[c]) * r->per_k[c], 0.0), r->most[c]);
}

INLINE void heat(Heat *h, int c, double at_w, double per_k, double at_c, double low_c, double high_c) {
  h->heat_w[c] = at_w * exponential(-per_k * at_c);
  h->per_k[c] = per_k;
  h->from_c[c] = low_c;
  h->to_c[c] = high_c;
}

INLINE double heat_at(const Heat *h, int c, double temp_c) {
  return h->heat_w[c] * exponential(h->per_k[c] * at_most(at_least(temp_c, h->from_c[c]), h->to_c[c]));
}

/* balance.coefficients_of and bees.bee_coefficients */
PHASE void coefficients_of(Block *b) {
  const Boxes *box = &b->box;
  const Parameters *p = &b->p;
  Coefficients *k = &b->k;
  EACH {
    response(&k->restless, c, p->agitation_start_c[c], p->agitation_span_k[c], p->agitation_gain[c] - 1.0);
    response(&k->shivering_w, c, box->hold_c[c], -p->hold_band_k[c], box->shiver_w[c]);
    response(&k->tightness, c, box->tighten_from_c[c], -box->tighten_span_k[c], 1.0);
    response(&k->spread_w_k, c, p->fan_start_c[c], p->fan_full_c[c] - p->fan_start_c[c], box->spread_w_k[c]);
    response(&k->fanning_m3_s, c, p->fan_start_c[c], p->fan_full_c[c] - p->fan_start_c[c], box->fan_flow_m3_s[c]);
    response(&k->wanted, c, p->evaporation_start_c[c], p->evaporation_full_c[c] - p->evaporation_start_c[c],
             box->evaporation_w[c]);
    response(&k->beard, c, p->beard_start_c[c], p->beard_span_k[c], p->beard_share[c]);
    response(&k->awake, c, p->coma_core_c[c], p->rest_low_c[c] - p->coma_core_c[c], 1.0);
    response(&k->vain_w, c, p->stale_core_c[c], p->stale_core_span_k[c], box->vain_w[c]);
    response(&k->quiet, c, p->quiet_from_c[c], p->quiet_span_k[c], p->quiet_share[c]);
    heat(&k->resting, c, box->rest_w[c], p->rest_heat_per_k[c], REST_STATED_AT_C, p->rest_low_c[c],
         p->rest_plateau_c[c]);
    heat(&k->brood, c, box->brood_w[c], logarithm(p->brood_q10[c]) / 10.0, p->brood_constant_above_c[c], -1e300,
         p->brood_constant_above_c[c]);
    k->water_end_w_kg[c] = LATENT_J_KG / p->water_last_s[c];
    k->mist_w_kg[c] = LATENT_J_KG / p->mist_evaporation_s[c];
    k->fuel_end_per_s[c] = 1.0 / p->fuel_last_s[c];
    k->skin_j_m3k_kg[c] = LATENT_J_KG * p->skin_film_w_m2k[c] * p->inside_film_m2k_w[c];
    k->bearded_fanning[c] = (1.0 - p->fan_beard_share[c]) / p->beard_share[c];
    k->confined[c] = 1.0 - box->open_entrance[c];
    /* doses.worker_heat */
    k->worker_per_s[c] = 1.0 / (p->worker_t50_h[c] * HOUR_S);
    k->worker_per_k[c] = LN_10 / p->worker_t50_z_k[c];
    k->worker_floor_per_s[c] =
        k->worker_per_s[c] * tenfold(p->worker_dose_floor_c[c], p->worker_t50_c[c], p->worker_t50_z_k[c]);
    k->starved_per_s[c] = 1.0 / (p->starving_h[c] * HOUR_S);
    k->hungry_per_j[c] = 1.0 / (p->hungry_j_kg[c] * box->bees_kg[c] + SMALL);
    k->soaked_per_kg[c] = 1.0 / box->soaked_kg[c];
    k->water_per_kg[c] = 1.0 / (box->water_kg[c] + SMALL);
    k->core_k_j[c] = 1.0 / box->core_j_k[c];
    k->stores_k_j[c] = 1.0 / box->stores_j_k[c];
    k->humid_per_share[c] = 1.0 / p->humid_span_share[c];
    k->restless_per_share[c] = 1.0 / p->co2_restless_span[c];
    k->stale_per_share[c] = 1.0 / p->stale_span_share[c];
    k->dry_per_kg[c] = 1.0 / p->dry_below_kg[c];
    k->draught_per_m2[c] = 1.0 / box->draught_m2[c];
    k->packed_w_k[c] = 1.0 / (box->cluster_m2[c] * box->packed_w_m2k[c] + SMALL);
    k->jolt_per_s[c] = 1.0 / p->jolt_decay_s[c];
    k->per_stated_k[c] = 1.0 / p->row_stated_k[c];
  }
}

#endif
