/* The march, compiled: the equations of integrate.py, balance.py, bees.py, doses.py and walls.py, term by term.

   The numpy march is the reference; whoever changes a term there changes it here, in the function of the same name.
   Names, order and units are those of the Python. A block of cases is walked through time together, its numbers in
   tables of LANES columns; every loop over the lanes is free of branches, so that any compiler turns it into vector
   instructions. NaN in a case gives NaN out for that case: bounds are written so that NaN passes.

   Only C11 and the hardware's square root are used. Python calls it through ctypes, without its lock. */

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#ifndef LANES
#define LANES 32
#endif
typedef double Lanes[LANES];

#if defined(__GNUC__) && !defined(__clang__)
#define EACH _Pragma("GCC ivdep") for (int c = 0; c < LANES; c++)
#elif defined(__clang__)
#define EACH _Pragma("clang loop vectorize(assume_safety) interleave(disable)") for (int c = 0; c < LANES; c++)
#else
#define EACH for (int c = 0; c < LANES; c++)
#endif

#if defined(__GNUC__)
#define INLINE static inline __attribute__((always_inline))
#define ROOT(x) __builtin_sqrt(x)
#define MAGNITUDE(x) __builtin_fabs(x)
#else
#include <math.h>
#define INLINE static inline
#define ROOT(x) sqrt(x)
#define MAGNITUDE(x) fabs(x)
#endif

/* One machine code for each kind of processor, chosen when the library is loaded, where the compiler can. */
#if defined(__x86_64__) && defined(__linux__) && !defined(PLAIN) && defined(__has_attribute)
#if __has_attribute(target_clones)
#define FOR_EACH_PROCESSOR __attribute__((target_clones("arch=x86-64-v4", "arch=x86-64-v3", "default")))
#endif
#endif
#ifndef FOR_EACH_PROCESSOR
#define FOR_EACH_PROCESSOR
#endif
#define PHASE FOR_EACH_PROCESSOR static

#if defined(_WIN32)
#define EXPORT __declspec(dllexport)
#else
#define EXPORT __attribute__((visibility("default")))
#endif

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
  X(quiet_share)

#define AIR_FIELDS(X)                                                                                               \
  X(base_c) X(sun_rise_k) X(least_c) X(resistance_k_w) X(outside_c) X(skin_share) X(skin_m3_s) X(breath_m3_s)       \
  X(bare_share) X(wet_share) X(speed_ms) X(pressure_root) X(lid_w_m2) X(flank_w_m2) X(end_w_m2) X(change_per_s)     \
  X(volume_m3) X(vapour_kg_m3) X(heat_j_m3k) X(ghi_w_m2) X(on_board)

#define VEHICLE_FIELDS(X) X(closed) X(moving) X(on_board) X(engine_on) X(shaking) X(since_jolt_s) X(riding_s)

#define STATE_FIELDS(X)                                                                                             \
  X(core_c) X(stores_c) X(water_kg) X(mist_kg) X(fuel_j) X(worker_dose) X(around_kg_m3) X(warming_k) X(shared_w)    \
  X(vapour_kg_s) X(skin_kg_m3) X(co2_share)

#define FORCING_FIELDS(X)                                                                                           \
  X(base_c) X(least_c) X(resistance_k_w) X(skin_base_c) X(skin_share) X(skin_m3_s) X(weight) X(walls_w_k) X(sun_w)  \
  X(wind_m6_s2) X(activity) X(heat_j_m3k) X(tight_w_k) X(drop_share) X(jolt) X(inside) X(free) X(fan_share)         \
  X(fetch_kg_s) X(vapour_kg_m3) X(vapour_gain) X(vapour_keep_half) X(skin_keep_half) X(breath_m3_s) X(active_s)     \
  X(mist_kg)

#define RATES_FIELDS(X)                                                                                             \
  X(core_k_s) X(stores_k_s) X(water_kg_s) X(mist_kg_s) X(fuel_w) X(warming_k) X(shared_w) X(mantle_c) X(skin_kg_m3) \
  X(box_air_c) X(local_c) X(flow_m3_s) X(adults_w) X(brood_w) X(evaporation_w) X(saturated_kg_m3) X(wanted_w)       \
  X(between_w_k)

/* What may be kept: at nodes (time + 1, case), and of steps (time, case). */
#define NODE_FIELDS(X) X(core_c) X(stores_c) X(around_kg_m3) X(co2_share) X(water_kg) X(worker_dose)
#define STEP_FIELDS(X)                                                                                              \
  X(mantle_c) X(box_air_c) X(local_c) X(flow_m3_s) X(adults_w) X(brood_w) X(evaporation_w) X(wanted_w)              \
  X(saturated_kg_m3) X(walls_w) X(air_w) X(sun_w)

#define ONE_MORE(name) +1
enum { AIR_COUNT = 0 AIR_FIELDS(ONE_MORE), VEHICLE_COUNT = 0 VEHICLE_FIELDS(ONE_MORE) };

#define LANES_OF(name) Lanes name;
#define NAME_OF(name) #name " "

typedef struct { CASE_FIELDS(LANES_OF) } Shift;
typedef struct { BOX_FIELDS(LANES_OF) } Boxes;
typedef struct { PARAMETER_FIELDS(LANES_OF) } Parameters;
typedef struct { AIR_FIELDS(LANES_OF) } Air;
typedef struct { VEHICLE_FIELDS(LANES_OF) } Vehicle;
typedef struct { STATE_FIELDS(LANES_OF) } State;
typedef struct { FORCING_FIELDS(LANES_OF) } Forcing;
typedef struct { RATES_FIELDS(LANES_OF) } Rates;

/* A column of numbers, one a case, or one for all where the stride is 0. */
typedef struct {
  const double *at;
  int64_t stride;
} Column;

/* Everything of one call; tables are (time, place) and (time, track), kept histories may be NULL. */
typedef struct {
  int64_t cases, steps, places, tracks;
  double step_s;
  int64_t detail; /* means of both evaluations rather than the first */
  const int64_t *place, *track, *enclosure, *order;
  const Column *shift, *boxes, *parameters;
  const double *const *air, *const *vehicle;
  double *const *state; /* of the beginning; of the end after the call */
  double *const *nodes, *const *seen;
  double *room; /* for the tables turned round: steps times the fields of all places and tracks */
} Job;

EXPORT const char *fields_of_cases(void) { return CASE_FIELDS(NAME_OF); }
EXPORT const char *fields_of_boxes(void) { return BOX_FIELDS(NAME_OF); }
EXPORT const char *fields_of_parameters(void) { return PARAMETER_FIELDS(NAME_OF); }
EXPORT const char *fields_of_air(void) { return AIR_FIELDS(NAME_OF); }
EXPORT const char *fields_of_vehicle(void) { return VEHICLE_FIELDS(NAME_OF); }
EXPORT const char *fields_of_state(void) { return STATE_FIELDS(NAME_OF); }
EXPORT const char *fields_of_forcing(void) { return FORCING_FIELDS(NAME_OF); }
EXPORT const char *fields_of_rates(void) { return RATES_FIELDS(NAME_OF); }
EXPORT const char *fields_of_nodes(void) { return NODE_FIELDS(NAME_OF); }
EXPORT const char *fields_of_steps(void) { return STEP_FIELDS(NAME_OF); }

#ifndef SOURCE_HASH
#define SOURCE_HASH "unknown"
#endif
EXPORT const char *made_of(void) { return SOURCE_HASH; }

/* -- constants: balance.py, air.py, doses.py, integrate.py ------------------------------------------------------ */

#define LATENT_J_KG 2.41e6
#define LATENT_HEAT_30C_J_KG 2.43e6
#define GAS_CONSTANT_VAPOUR_J_KGK 461.524
#define VAPOUR_GAS_CONSTANT 461.5
#define KELVIN_AT_ZERO_C 273.15
#define MAGNUS_PA 610.94
#define MAGNUS_SLOPE 17.625
#define MAGNUS_C 243.04
#define MEAN_DROP 0.6
#define SMALL 1e-12
#define REST_STATED_AT_C 30.0
#define NO_DEATH_DOSE 0.03
#define LEAST_CHANGE_PER_S 1e-9
#define WARM_UP 4
#define HOUR_S 3600.0
#define LN_10 2.302585092994046

/* -- arithmetic ------------------------------------------------------------------------------------------------- */

/* The larger and the smaller; where x is NaN so is the answer. */
INLINE double at_least(double x, double least) { return x < least ? least : x; }
INLINE double at_most(double x, double most) { return x > most ? most : x; }

INLINE double number_of(uint64_t bits) {
  double x;
  memcpy(&x, &bits, sizeof x);
  return x;
}

INLINE uint64_t bits_of(double x) {
  uint64_t bits;
  memcpy(&bits, &x, sizeof bits);
  return bits;
}

/* Adding it leaves the nearest whole number in the last bits of a double. */
#define ROUNDER 6755399441055744.0

/* e to the x, to 1e-14 of itself: 2^n by its exponent's bits, times the series of what is left, below ln 2 / 2. */
INLINE double exponential(double x) {
  double held = at_most(at_least(x, -700.0), 700.0);
  double rounded = held * 1.4426950408889634 + ROUNDER;
  double n = rounded - ROUNDER;
  double r = (held - n * 0.6931471803691238) - n * 1.9082149292705877e-10;
  double series = 1.0 / 39916800.0;
  series = series * r + 1.0 / 3628800.0;
  series = series * r + 1.0 / 362880.0;
  series = series * r + 1.0 / 40320.0;
  series = series * r + 1.0 / 5040.0;
  series = series * r + 1.0 / 720.0;
  series = series * r + 1.0 / 120.0;
  series = series * r + 1.0 / 24.0;
  series = series * r + 1.0 / 6.0;
  series = series * r + 0.5;
  series = series * r + 1.0;
  series = series * r + 1.0;
  return series * number_of((bits_of(rounded) + 1023) << 52);
}

/* Natural logarithm of a positive number, to 1e-15: its exponent, and the series of artanh for the rest. */
INLINE double logarithm(double x) {
  uint64_t bits = bits_of(x);
  double exponent = number_of((bits >> 52) | 0x4330000000000000u) - 4503599627370496.0 - 1023.0;
  double part = number_of((bits & 0x000fffffffffffffu) | 0x3ff0000000000000u);
  double large = part > 1.4142135623730951 ? 1.0 : 0.0;
  part = part - 0.5 * large * part;
  double s = (part - 1.0) / (part + 1.0), z = s * s;
  double series = 1.0 / 19.0;
  series = series * z + 1.0 / 17.0;
  series = series * z + 1.0 / 15.0;
  series = series * z + 1.0 / 13.0;
  series = series * z + 1.0 / 11.0;
  series = series * z + 1.0 / 9.0;
  series = series * z + 1.0 / 7.0;
  series = series * z + 1.0 / 5.0;
  series = series * z + 1.0 / 3.0;
  series = series * z + 1.0;
  return 2.0 * s * series + (exponent + large) * 0.6931471805599453 + 0.0 * x;
}

/* The largest whole number not above x, for numbers below 2^51. */
INLINE double whole(double x) {
  double near = (x + ROUNDER) - ROUNDER;
  return near - (near > x ? 1.0 : 0.0);
}

/* bees.ramp */
INLINE double ramp(double value, double start, double span) {
  return at_most(at_least((value - start) / span, 0.0), 1.0);
}

/* bees.tenfold */
INLINE double tenfold(double value, double one_at, double tenth) {
  return exponential((value - one_at) * (LN_10 / tenth));
}

/* balance.saturation_kg_m3, the fraction split to save a product; the logarithm is that of 610.94 / 461.5 */
INLINE double saturation_kg_m3(double temp_c) {
  return exponential(0.2805167007341172 + MAGNUS_SLOPE - MAGNUS_SLOPE * MAGNUS_C / (temp_c + MAGNUS_C)) /
         (temp_c + KELVIN_AT_ZERO_C);
}

/* air.vapour_density_kg_m3 of air.saturation_pressure_fast_pa */
INLINE double saturated_fast_kg_m3(double temp_c) {
  return MAGNUS_PA * exponential(MAGNUS_SLOPE * temp_c / (temp_c + MAGNUS_C)) /
         (GAS_CONSTANT_VAPOUR_J_KGK * (temp_c + KELVIN_AT_ZERO_C));
}

/* balance.humidity_share: the vapour around with what is evaporated into the air that leaves */
INLINE double humidity_share(double around_kg_m3, double evaporation_w, double flow_m3_s, double saturated_kg_m3) {
  return (around_kg_m3 + evaporation_w * (1.0 / LATENT_J_KG) / flow_m3_s) / saturated_kg_m3;
}

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
} Coefficients;

/* What one half of the balance hands to the other, across the sums over an enclosure. */
typedef struct {
  Lanes bearded, at_work, cuticle_w, film, source, flow, escape, own, given, felt, latent_w, skin;
  Lanes tightness, restless, shivering_w, wanted, awake, vain_w, quiet, most_m3_s, fanned_m3_s;
} Half;

typedef struct {
  int lanes; /* in use; the others repeat the last case and are not kept */
  int64_t here[LANES], place[LANES], track[LANES], enclosure[LANES];
  int any_mist, dying;
  Shift shift;
  Boxes box;
  Parameters p;
  Coefficients k;
  Air air;
  Vehicle vehicle;
  Forcing forcing;
  State state, now;
  Lanes alive, shared_given, shared_made;
  Half half;
  Rates first, second;
} Block;

/* Several blocks whose cases share enclosures among themselves and with nobody else; mostly one. */
typedef struct {
  const Job *job;
  Block *blocks;
  int count, sharing;
  double *sums;
  const double *air, *vehicle;
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
  }
}

/* -- integrate.prepare: the forces of one step -------------------------------------------------------------------- */

/* The tables of the places and of the tracks turned round: what belongs to one place lies together, minute by minute,
   so that a case reads on where it read before. */
static void turn(double *out, const double *const *table, int fields, int64_t steps, int64_t columns) {
  for (int64_t first = 0; first < steps; first += 8)
    for (int64_t begin = 0; begin < columns; begin += 32) {
      int64_t last = first + 8 < steps ? first + 8 : steps, end = begin + 32 < columns ? begin + 32 : columns;
      for (int64_t t = first; t < last; t++)
        for (int i = 0; i < fields; i++) {
          const double *row = table[i] + t * columns;
          for (int64_t column = begin; column < end; column++) out[(column * steps + t) * fields + i] = row[column];
        }
    }
}

/* Step t of the tables, taken for every case. */
PHASE void look_up(const Team *team, Block *b, int64_t t) {
  const double *row[LANES];
  int one = 1;
  for (int c = 0; c < LANES; c++) row[c] = team->air + (b->place[c] * team->job->steps + t) * AIR_COUNT;
  for (int c = 1; c < LANES; c++) one &= row[c] == row[0];
  int i = 0;
#define TAKE(name)                                                                                                  \
  for (int c = 0; c < LANES; c++) b->air.name[c] = row[c][i];                                                       \
  i++;
#define TAKE_ONE(name)                                                                                              \
  {                                                                                                                 \
    double value = row[0][i++];                                                                                     \
    EACH b->air.name[c] = value;                                                                                    \
  }
  if (one) {
    AIR_FIELDS(TAKE_ONE)
  } else {
    AIR_FIELDS(TAKE)
  }
  i = 0;
  for (int c = 0; c < LANES; c++) row[c] = team->vehicle + (b->track[c] * team->job->steps + t) * VEHICLE_COUNT;
#define TAKE_VEHICLE(name)                                                                                          \
  for (int c = 0; c < LANES; c++) b->vehicle.name[c] = row[c][i];                                                   \
  i++;
  VEHICLE_FIELDS(TAKE_VEHICLE)
}

/* integrate._mist: water misted onto each box during each step, kg; none below the temperature at which it chills */
PHASE void mist(Block *b, double step_s) {
  const Boxes *box = &b->box;
  EACH {
    double planned = box->mist_kg[c] > 0.0 ? 1.0 : 0.0;
    double first_s = planned > 0.0 ? box->mist_first_s[c] : 0.0;
    double every_s = planned > 0.0 ? box->mist_every_s[c] : 1.0;
    double riding_s = b->vehicle.riding_s[c];
    double late = at_least((riding_s - first_s) / every_s, -1.0);
    double before = at_least((riding_s - step_s - first_s) / every_s, -1.0);
    double due = (whole(late) - whole(before)) * b->vehicle.on_board[c];
    double base_c = b->air.base_c[c] + b->air.sun_rise_k[c] * b->shift.sun_factor[c] + b->shift.air_offset_k[c];
    double least_c = b->air.least_c[c] + b->shift.place_offset_k[c] * b->air.on_board[c];
    double at_c = at_least(base_c, least_c);
    b->forcing.mist_kg[c] = at_c >= b->p.no_mist_below_c[c] ? due * box->mist_kg[c] : 0.0;
  }
}

PHASE void prepare(const Team *team, Block *b, int64_t t) {
  const double step_s = team->job->step_s;
  const Boxes *box = &b->box;
  const Parameters *p = &b->p;
  const Air *air = &b->air;
  const Vehicle *vehicle = &b->vehicle;
  const Shift *shift = &b->shift;
  Forcing *f = &b->forcing;
  look_up(team, b, t);
  EACH {
    /* the outside film, walls.outside_film_m2k_w, and what lets heat through lid and body */
    double speed = air->speed_ms[c] * shift->wind_factor[c];
    double convective = p->outside_film_still_w_m2k[c] + p->outside_film_per_speed[c] * speed;
    double outside = 1.0 / (convective + p->outside_radiation_w_m2k[c]);
    double lid = box->lid_m2[c] / (box->lid_m2k_w[c] + outside);
    double per_body = 1.0 / (box->body_m2k_w[c] + outside);
    f->walls_w_k[c] = lid + box->body_m2[c] * per_body * air->bare_share[c];

    /* air where it rides, shifted */
    double offset_k = shift->place_offset_k[c] * air->on_board[c];
    double base_c = air->base_c[c] + air->sun_rise_k[c] * shift->sun_factor[c] + shift->air_offset_k[c];
    f->base_c[c] = base_c + offset_k;
    f->least_c[c] = air->least_c[c] + offset_k;
    f->resistance_k_w[c] = air->resistance_k_w[c];

    /* _sun: through walls by the sol-air rule, through clear walls and screens direct */
    double sides_w = air->flank_w_m2[c] * box->long_side_m2[c] + air->end_w_m2[c] * box->short_side_m2[c];
    double soaked = box->absorptance[c] * outside * (lid * air->lid_w_m2[c] + per_body * sides_w);
    double direct = box->sun_transmittance[c] * (box->lid_m2[c] * air->lid_w_m2[c] + sides_w) +
                    box->screen_sun_m2[c] * air->lid_w_m2[c];
    double sun_w = (soaked + direct) * shift->sun_factor[c];

    /* _dried_w_m2 by walls.wet_skin_w_m2: heat that rain takes off the skins while it dries */
    double leaves = LATENT_HEAT_30C_J_KG * convective / air->heat_j_m3k[c];
    double saturated = saturated_fast_kg_m3(base_c), cooler = saturated_fast_kg_m3(base_c - 1.0);
    double slope = leaves * (saturated - cooler) * outside;
    double wet_skin_w_m2 = leaves * at_least(saturated - air->vapour_kg_m3[c], 0.0) / (1.0 + slope);
    double dried_w_m2 = air->wet_share[c] * wet_skin_w_m2;
    f->sun_w[c] = sun_w - (lid + box->body_m2[c] * per_body) * outside * dried_w_m2;

    /* wind through the openings, and the cluster drawn together in that draught */
    double through = box->through_m2[c] * air->pressure_root[c], single = box->single_m2[c];
    double wind_m6_s2 = speed * speed * (through * through + single * single) + SMALL;
    double draught_ms = ROOT(wind_m6_s2) / box->draught_m2[c] + box->under_screen[c] * speed;
    double film = p->mantle_film_w_m2k[c] + p->mantle_film_per_root[c] * ROOT(draught_ms);
    double packed = box->packed_w_m2k[c];
    double tight = at_most(box->cluster_m2[c] * packed * film / (packed + film), box->core_w_k[c]);
    f->wind_m6_s2[c] = wind_m6_s2;
    f->tight_w_k[c] = tight;
    f->drop_share[c] = tight / (box->cluster_m2[c] * packed + SMALL);
    f->heat_j_m3k[c] = air->heat_j_m3k[c];
  }
  EACH {
    /* the cold skin of an enclosure, and the vapour of its air */
    double change = air->change_per_s[c];
    double in_the_open = change > 1e300 ? 1.0 : 0.0;
    double gain = 1.0 / (air->volume_m3[c] * at_least(change, LEAST_CHANGE_PER_S));
    double skin_change = air->skin_m3_s[c] / air->volume_m3[c];
    f->skin_base_c[c] = (1.0 - air->skin_share[c]) * (air->outside_c[c] + shift->air_offset_k[c]);
    f->skin_share[c] = air->skin_share[c];
    f->skin_m3_s[c] = air->skin_m3_s[c];
    f->vapour_kg_m3[c] = air->vapour_kg_m3[c];
    f->vapour_gain[c] = in_the_open > 0.0 ? 0.0 : gain;
    f->vapour_keep_half[c] = exponential(-0.5 * change * step_s);
    f->skin_keep_half[c] = exponential(-0.5 * (change + skin_change) * step_s);
    f->breath_m3_s[c] = air->breath_m3_s[c];
  }
  EACH {
    /* which boxes count, and what their bees are about: _base_activity, _flying, bees.activity, bees.jolt_left */
    double closed = vehicle->closed[c], free = box->open_entrance[c] * (1.0 - vehicle->on_board[c]);
    double flying = free * ((air->ghi_w_m2[c] > p->flight_sun_w_m2[c]) & (air->base_c[c] > p->flight_from_c[c]) ? 1.0 : 0.0);
    double idling = vehicle->engine_on[c] * vehicle->on_board[c];
    double at_rest = free > 0.0 ? p->activity_resting[c] : p->activity_waiting[c];
    double still = idling > 0.0 ? p->activity_idling[c] : at_rest;
    double base = still + (p->activity_driving[c] - still) * vehicle->shaking[c];
    double jolt = exponential(-vehicle->since_jolt_s[c] / p->jolt_decay_s[c]);
    f->weight[c] = box->count[c] * air->on_board[c] * closed;
    f->active_s[c] = closed > 0.0 ? step_s : 0.0;
    f->free[c] = free;
    f->inside[c] = 1.0 - p->foragers_share[c] * flying;
    f->fetch_kg_s[c] = flying * box->fetch_kg_s[c];
    f->fan_share[c] = vehicle->moving[c] > 0.0 ? p->fan_moving_share[c] : 1.0;
    f->jolt[c] = jolt;
    f->activity[c] = base + (p->activity_jolt[c] - base) * jolt;
  }
  if (b->any_mist)
    mist(b, step_s);
  else
    EACH f->mist_kg[c] = 0.0;
}

/* -- balance.rates: the balance of heat and water at one instant --------------------------------------------------- */

/* Up to the heat that a case gives its enclosure. */
PHASE void rates_before(Block *b, const State *state) {
  const Boxes *box = &b->box;
  const Coefficients *k = &b->k;
  const Forcing *f = &b->forcing;
  Half *h = &b->half;
  EACH {
    double core = state->core_c[c], stores = state->stores_c[c], alive = b->alive[c];
    h->restless[c] = answer(&k->restless, c, core);
    h->shivering_w[c] = answer(&k->shivering_w, c, core);
    h->wanted[c] = answer(&k->wanted, c, core);
    h->awake[c] = answer(&k->awake, c, core);
    h->vain_w[c] = answer(&k->vain_w, c, core);
    h->quiet[c] = answer(&k->quiet, c, core);
    double bearded = f->free[c] * answer(&k->beard, c, core);
    double at_work = alive * (f->inside[c] - bearded);
    /* wet bees cannot draw together */
    double soaked = at_most(at_least(state->mist_kg[c], 0.0) / box->soaked_kg[c], 1.0);
    double tightness = alive * answer(&k->tightness, c, core) * (1.0 - soaked);
    double breath = 1.0 - (1.0 - alive) * box->dead_block_share[c];
    double film = box->core_w_k[c] - tightness * (box->core_w_k[c] - f->tight_w_k[c]) +
                  at_work * answer(&k->spread_w_k, c, core);
    double most_m3_s = box->fan_m3_s[c] * f->fan_share[c] * (1.0 - bearded * k->bearded_fanning[c]);
    double fanned_m3_s = at_most(at_work * answer(&k->fanning_m3_s, c, core), most_m3_s);
    double steady = fanned_m3_s + box->leak_m3_s[c];
    double comb = film + box->stores_w_k[c];
    double source = film * core + box->stores_w_k[c] * stores + f->sun_w[c];
    double around_c = at_least(f->base_c[c] + f->resistance_k_w[c] * state->shared_w[c], f->least_c[c]);

    /* onto_skin: saturation at the cold skin, and the latent heat that its water gives back inwards */
    double over = at_least(state->around_kg_m3[c] - state->skin_kg_m3[c], 0.0);
    double warmed = k->skin_j_m3k_kg[c] / f->heat_j_m3k[c] * over;
    double skin = saturation_kg_m3(f->skin_base_c[c] + f->skin_share[c] * (around_c + warmed));
    double condensed = f->skin_m3_s[c] * at_least(state->around_kg_m3[c] - skin, 0.0);
    double latent_w = f->skin_share[c] * condensed * LATENT_J_KG;

    /* _flow: the air flow that closes the balance of the box air, by one Newton step from the last warming */
    double buoyant = box->buoyant_m6_s2_k[c] * breath * breath, wind = f->wind_m6_s2[c] * breath * breath;
    double squared = buoyant * MAGNITUDE(state->warming_k[c]);
    double driven = ROOT(squared + wind);
    double conductance = comb + f->walls_w_k[c] + f->heat_j_m3k[c] * (driven + steady);
    double tail = f->heat_j_m3k[c] * squared / (driven + driven);
    double warming = (source - comb * around_c + state->warming_k[c] * tail) / (conductance + tail);
    double flow = ROOT(buoyant * MAGNITUDE(warming) + wind) + steady;

    double out = f->walls_w_k[c] + f->heat_j_m3k[c] * flow;
    double total = comb + out;
    double own = source / total, escape = out / total;
    h->bearded[c] = bearded;
    h->at_work[c] = at_work;
    h->tightness[c] = tightness;
    h->cuticle_w[c] = alive * box->cuticle_w[c];
    h->most_m3_s[c] = most_m3_s;
    h->fanned_m3_s[c] = fanned_m3_s;
    h->film[c] = film;
    h->source[c] = source;
    h->flow[c] = flow;
    h->own[c] = own;
    h->escape[c] = escape;
    h->skin[c] = skin;
    h->latent_w[c] = latent_w;
    h->given[c] = f->weight[c] * (escape * source - f->sun_w[c]);
    h->felt[c] = f->weight[c] * (escape * comb);
  }
}

/* From there, once the enclosure is summed up. */
PHASE void rates_after(Block *b, const State *state, Rates *r) {
  const Boxes *box = &b->box;
  const Parameters *p = &b->p;
  const Coefficients *k = &b->k;
  const Forcing *f = &b->forcing;
  const Half *h = &b->half;
  Lanes misted_w;
  if (b->any_mist)
    EACH {
      /* _misted_w: never so much that wet bees and combs would cool below the wet bulb */
      double surface = h->film[c] / f->heat_j_m3k[c];
      double through = surface * h->flow[c] / (surface + h->flow[c]);
      double most =
          through * at_least(saturation_kg_m3(state->core_c[c]) - state->around_kg_m3[c], 0.0) * LATENT_J_KG;
      misted_w[c] = at_most(at_least(state->mist_kg[c], 0.0) * k->mist_w_kg[c], most);
    }
  else
    EACH misted_w[c] = 0.0;
  EACH {
    double core = state->core_c[c], stores = state->stores_c[c], around = state->around_kg_m3[c];
    double at_work = h->at_work[c], film = h->film[c], flow = h->flow[c], tightness = h->tightness[c];
    double given = h->given[c] + h->latent_w[c], felt = h->felt[c];
    double free = (f->base_c[c] + f->resistance_k_w[c] * given) / (f->resistance_k_w[c] * felt + 1.0);
    double local = at_least(free, f->least_c[c]);
    double box_air = h->own[c] + h->escape[c] * local;

    /* water: what the air takes up, what the bees offer it */
    double saturated = saturation_kg_m3(box_air);
    double carry = at_least(flow * (p->exit_saturation[c] * saturated - around), 0.0) * LATENT_J_KG;
    double wanted = at_work * h->wanted[c];
    double drunk = at_most(wanted, at_least(state->water_kg[c], 0.0) * k->water_end_w_kg[c]);
    double misted = misted_w[c];
    double offered = drunk + misted + h->cuticle_w[c] + SMALL;
    double evaporation = at_most(carry, offered);
    double lost_kg_j = evaporation / offered * (-1.0 / LATENT_J_KG);
    double fetched = f->fetch_kg_s[c] * (1.0 - at_most(state->water_kg[c] / (box->water_kg[c] + SMALL), 1.0));

    /* bees.metabolic_heat: adults at their own mean temperature, brood in the core */
    double drop = f->drop_share[c] * tightness * (core - box_air);
    double resting_w = heat_at(&k->resting, c, core - MEAN_DROP * drop);
    double brood_w = heat_at(&k->brood, c, core);
    double active_w = resting_w * f->activity[c];

    /* _stress: bees that are shut in grow restless by damp air, by carbon dioxide or by a jolt */
    double humidity = humidity_share(around, evaporation, flow, saturated);
    double co2 = state->co2_share[c] + active_w * p->co2_m3_per_j[c] / flow;
    double damp = ramp(humidity, p->humid_from_share[c], p->humid_span_share[c]);
    double stuffy = ramp(co2, p->co2_alert_share[c], p->co2_restless_span[c]);
    double stress = k->confined[c] * at_least(at_least(damp, stuffy), f->jolt[c]);
    double agitation = h->restless[c] * stress;

    /* in the heat and in good air they sit still */
    active_w = active_w - h->quiet[c] * (1.0 - at_least(stress, f->jolt[c])) * (active_w - resting_w);

    /* _stale: more of them fan, in vain, where the air stays stale although they fan all they can */
    double most_flow = flow + h->most_m3_s[c] - h->fanned_m3_s[c];
    double co2_left = state->co2_share[c] + (active_w + brood_w) * p->co2_m3_per_j[c] / most_flow;
    double stale = ramp(co2_left, p->stale_from_share[c], p->stale_span_share[c]);

    double wanted_w = at_least(
        at_most(active_w * (agitation + 1.0) + h->vain_w[c] * stale, box->ceiling_w[c]), h->shivering_w[c]);
    double adults_w = at_most(at_work * h->awake[c] * wanted_w, at_least(state->fuel_j[c], 0.0) * k->fuel_end_per_s[c]);

    /* between core, stores and box air */
    double between_w_k = box->between_w_k[c] * (1.0 - tightness);
    double between = between_w_k * (core - stores);
    double to_air = film * (core - box_air);
    r->core_k_s[c] = (adults_w + brood_w - evaporation - to_air - between) / box->core_j_k[c];
    r->stores_k_s[c] = (between - box->stores_w_k[c] * (stores - box_air)) / box->stores_j_k[c];
    r->water_kg_s[c] = drunk * lost_kg_j + fetched;
    r->mist_kg_s[c] = misted * lost_kg_j;
    r->fuel_w[c] = -adults_w;
    r->warming_k[c] = box_air - local;
    r->shared_w[c] = given - felt * local;
    r->skin_kg_m3[c] = h->skin[c];
    r->mantle_c[c] = core - drop;
    r->box_air_c[c] = box_air;
    r->local_c[c] = local;
    r->flow_m3_s[c] = flow;
    r->adults_w[c] = adults_w;
    r->brood_w[c] = brood_w;
    r->evaporation_w[c] = evaporation;
    r->saturated_kg_m3[c] = saturated;
    r->wanted_w[c] = wanted;
    r->between_w_k[c] = between_w_k;
  }
}

/* -- integrate.advance: one Heun step ------------------------------------------------------------------------------ */

/* integrate.moisture: vapour around the boxes, carried off by the air and by a skin that is colder */
INLINE double moisture(double around, double skin, double given_off_kg_s, double vapour_kg_m3, double gain,
                       double skin_m3_s, double air_kept, double skin_kept) {
  double airy = vapour_kg_m3 + gain * given_off_kg_s;
  double pull = gain * skin_m3_s;
  double wet = (airy + pull * skin) / (pull + 1.0);
  double by_air = airy + (around - airy) * air_kept;
  double by_both = wet + (around - wet) * skin_kept;
  return at_most(by_air, at_least(by_both, skin));
}

/* integrate._alive: all of them below a dose that matters to 1 in 10^6, bees.alive_share above */
PHASE void alive_of(Block *b, const double *worker_dose) {
  int dying = 0;
  for (int c = 0; c < LANES; c++) dying |= !(worker_dose[c] < NO_DEATH_DOSE);
  if (dying)
    EACH {
      double dose = worker_dose[c];
      double share = 1.0 / (1.0 + exponential(b->p.death_steepness[c] * logarithm(dose)));
      b->alive[c] = dose < NO_DEATH_DOSE ? 1.0 : share;
    }
  else
    EACH b->alive[c] = 1.0;
}

/* integrate.dose_rate: of heat, faster in humid air without water, and of hunger; at the middle of the step */
INLINE double dose_rate(const Block *b, int c, double core_c) {
  const Coefficients *k = &b->k;
  const Parameters *p = &b->p;
  const State *state = &b->now;
  const Rates *now = &b->first;
  double left_kg = at_least(state->water_kg[c] + state->mist_kg[c], 0.0);
  double dry = 1.0 - at_most(left_kg / p->dry_below_kg[c], 1.0);
  double humidity =
      humidity_share(state->around_kg_m3[c], now->evaporation_w[c], now->flow_m3_s[c], now->saturated_kg_m3[c]);
  double humid = ramp(humidity, p->humid_from_share[c], p->humid_span_share[c]);
  double faster = (p->worker_humid_factor[c] - 1.0) * dry * humid;
  double hungry = 1.0 - at_most(state->fuel_j[c] * k->hungry_per_j[c], 1.0);
  double of_heat = at_least(k->worker_per_s[c] * exponential((core_c - p->worker_t50_c[c]) * k->worker_per_k[c]) -
                                k->worker_floor_per_s[c],
                            0.0);
  return of_heat * (faster + 1.0) + hungry * k->starved_per_s[c];
}

/* The state with which a step is begun: misted, and with the moisture of mid-step. */
PHASE void begin(Block *b) {
  const Forcing *f = &b->forcing;
  b->now = b->state;
  EACH {
    const State *s = &b->state;
    b->now.mist_kg[c] = s->mist_kg[c] + f->mist_kg[c];
    b->now.around_kg_m3[c] =
        moisture(s->around_kg_m3[c], s->skin_kg_m3[c], s->vapour_kg_s[c], f->vapour_kg_m3[c], f->vapour_gain[c],
                 f->skin_m3_s[c], f->vapour_keep_half[c], f->skin_keep_half[c]);
  }
  alive_of(b, b->state.worker_dose);
}

/* integrate.stale: carbon dioxide around the boxes a step later */
INLINE double stale_air(const Block *b, int c, double co2_share) {
  const Forcing *f = &b->forcing;
  double settled = b->p.ambient_co2_share[c] +
                   f->vapour_gain[c] * (b->shared_made[c] * b->p.co2_m3_per_j[c] + f->breath_m3_s[c]);
  return settled + (co2_share - settled) * (f->vapour_keep_half[c] * f->vapour_keep_half[c]);
}

/* What all boxes of an enclosure breathe for by the first evaluation, to be summed up. */
PHASE void breathed(Block *b) {
  EACH b->shared_made[c] = b->forcing.weight[c] * (b->first.adults_w[c] + b->first.brood_w[c]);
}

/* From the first evaluation to the second: the state ahead, by Euler; the dose is done with. */
PHASE void ahead(Block *b, State *then) {
  const State *now = &b->now;
  const Rates *first = &b->first;
  EACH {
    double dt = b->forcing.active_s[c];
    double core_c = now->core_c[c] + 0.5 * dt * first->core_k_s[c];
    then->worker_dose[c] = now->worker_dose[c] + dt * dose_rate(b, c, core_c);
    then->core_c[c] = now->core_c[c] + dt * first->core_k_s[c];
    then->stores_c[c] = now->stores_c[c] + dt * first->stores_k_s[c];
    then->water_kg[c] = now->water_kg[c] + dt * first->water_kg_s[c];
    then->mist_kg[c] = now->mist_kg[c] + dt * first->mist_kg_s[c];
    then->fuel_j[c] = now->fuel_j[c] + dt * first->fuel_w[c];
    then->around_kg_m3[c] = now->around_kg_m3[c];
    then->warming_k[c] = first->warming_k[c];
    then->shared_w[c] = first->shared_w[c];
    then->vapour_kg_s[c] = now->vapour_kg_s[c];
    then->skin_kg_m3[c] = first->skin_kg_m3[c];
    then->co2_share[c] = stale_air(b, c, b->state.co2_share[c]);
  }
  alive_of(b, then->worker_dose);
}

/* What all boxes of an enclosure gave off, to be summed up. */
PHASE void given_off(Block *b) {
  const Rates *first = &b->first, *second = &b->second;
  EACH {
    double weight = b->forcing.weight[c];
    b->shared_given[c] = weight * (first->evaporation_w[c] + second->evaporation_w[c]);
    b->shared_made[c] = weight * (0.5 * (first->adults_w[c] + first->brood_w[c] + second->adults_w[c] + second->brood_w[c]));
  }
}

/* The new state: means of both slopes, and the moisture and carbon dioxide of the end of the step. */
PHASE void finish(Block *b, const State *then) {
  const State *now = &b->now;
  const Rates *first = &b->first, *second = &b->second;
  const Forcing *f = &b->forcing;
  State *s = &b->state;
  EACH {
    double half = 0.5 * f->active_s[c];
    double given_off_kg_s = 0.5 * (1.0 / LATENT_J_KG) * b->shared_given[c];
    double kept = f->vapour_keep_half[c] * f->vapour_keep_half[c];
    double skin_kept = f->skin_keep_half[c] * f->skin_keep_half[c];
    double vapour = moisture(s->around_kg_m3[c], second->skin_kg_m3[c], given_off_kg_s, f->vapour_kg_m3[c],
                             f->vapour_gain[c], f->skin_m3_s[c], kept, skin_kept);
    s->core_c[c] = now->core_c[c] + half * (first->core_k_s[c] + second->core_k_s[c]);
    s->stores_c[c] = now->stores_c[c] + half * (first->stores_k_s[c] + second->stores_k_s[c]);
    s->water_kg[c] = now->water_kg[c] + half * (first->water_kg_s[c] + second->water_kg_s[c]);
    s->mist_kg[c] = now->mist_kg[c] + half * (first->mist_kg_s[c] + second->mist_kg_s[c]);
    s->fuel_j[c] = now->fuel_j[c] + half * (first->fuel_w[c] + second->fuel_w[c]);
    s->worker_dose[c] = then->worker_dose[c];
    s->around_kg_m3[c] = at_most(vapour, saturation_kg_m3(second->local_c[c]));
    s->warming_k[c] = second->warming_k[c];
    s->shared_w[c] = second->shared_w[c];
    s->vapour_kg_s[c] = given_off_kg_s;
    s->skin_kg_m3[c] = second->skin_kg_m3[c];
    s->co2_share[c] = stale_air(b, c, s->co2_share[c]);
  }
}

/* -- what is kept ---------------------------------------------------------------------------------------------------- */

INLINE void keep(const Block *b, double *table, int64_t row, int64_t cases, const double *values) {
  if (!table) return;
  double *at = table + row * cases;
  for (int c = 0; c < b->lanes; c++) at[b->here[c]] = values[c];
}

PHASE void keep_nodes(const Job *job, const Block *b, int64_t row) {
  double *const *table = job->nodes;
  Lanes water_kg;
  EACH water_kg[c] = b->state.water_kg[c] + b->state.mist_kg[c];
  keep(b, table[0], row, job->cases, b->state.core_c);
  keep(b, table[1], row, job->cases, b->state.stores_c);
  keep(b, table[2], row, job->cases, b->state.around_kg_m3);
  keep(b, table[3], row, job->cases, b->state.co2_share);
  keep(b, table[4], row, job->cases, water_kg);
  keep(b, table[5], row, job->cases, b->state.worker_dose);
}

/* integrate._means, or the first evaluation alone where no detail is asked for */
PHASE void keep_steps(const Job *job, const Block *b, int64_t t) {
  double *const *table = job->seen;
  const Rates *first = &b->first, *again = job->detail ? &b->second : &b->first;
  Lanes mean;
#define KEEP(i, name)                                                                                               \
  if (table[i]) {                                                                                                   \
    EACH mean[c] = 0.5 * (first->name[c] + again->name[c]);                                                         \
    keep(b, table[i], t, job->cases, mean);                                                                         \
  }
  KEEP(0, mantle_c)
  KEEP(1, box_air_c)
  KEEP(2, local_c)
  KEEP(3, flow_m3_s)
  KEEP(4, adults_w)
  KEEP(5, brood_w)
  KEEP(6, evaporation_w)
  KEEP(7, wanted_w)
  KEEP(8, saturated_kg_m3)
  if (table[9]) {
    EACH mean[c] = 0.5 * b->forcing.walls_w_k[c] *
                   ((first->box_air_c[c] - first->local_c[c]) + (again->box_air_c[c] - again->local_c[c]));
    keep(b, table[9], t, job->cases, mean);
  }
  if (table[10]) {
    EACH mean[c] = 0.5 * b->forcing.heat_j_m3k[c] *
                   (first->flow_m3_s[c] * (first->box_air_c[c] - first->local_c[c]) +
                    again->flow_m3_s[c] * (again->box_air_c[c] - again->local_c[c]));
    keep(b, table[10], t, job->cases, mean);
  }
  keep(b, table[11], t, job->cases, b->forcing.sun_w);
}

/* -- the march ---------------------------------------------------------------------------------------------------------- */

INLINE void fill(Lanes to, const Column *from, const Block *b) {
  for (int c = 0; c < LANES; c++) to[c] = from->at[b->here[c] * from->stride];
}

/* The columns of a block's cases: boxes, parameters, shifts and the state they begin with. */
PHASE void lay(const Job *job, Block *b) {
  const Column *column = job->shift;
#define FILL_SHIFT(name) fill(b->shift.name, column++, b);
  CASE_FIELDS(FILL_SHIFT)
  column = job->boxes;
#define FILL_BOX(name) fill(b->box.name, column++, b);
  BOX_FIELDS(FILL_BOX)
  column = job->parameters;
#define FILL_PARAMETER(name) fill(b->p.name, column++, b);
  PARAMETER_FIELDS(FILL_PARAMETER)
  double *const *state = job->state;
#define FILL_STATE(name)                                                                                            \
  {                                                                                                                 \
    const double *from = *state++;                                                                                  \
    for (int c = 0; c < LANES; c++) b->state.name[c] = from[b->here[c]];                                            \
  }
  STATE_FIELDS(FILL_STATE)
  for (int c = 0; c < LANES; c++) {
    b->place[c] = job->place[b->here[c]];
    b->track[c] = job->track[b->here[c]];
  }
  b->any_mist = 0;
  for (int c = 0; c < LANES; c++) b->any_mist |= b->box.mist_kg[c] + b->box.wet_kg[c] > 0.0;
  coefficients_of(b);
}

/* integrate.settle: the first guess of the box air brought to its solution */
static void settle(Team *team) {
  for (int i = 0; i < WARM_UP; i++) {
    ALL_BLOCKS rates_before(b, &b->state);
    TOTAL(half.given)
    TOTAL(half.felt)
    ALL_BLOCKS {
      rates_after(b, &b->state, &b->first);
      EACH b->state.warming_k[c] = b->first.warming_k[c];
      EACH b->state.shared_w[c] = b->first.shared_w[c];
      EACH b->state.skin_kg_m3[c] = b->first.skin_kg_m3[c];
    }
  }
}

static void walk(Team *team, State *then) {
  const Job *job = team->job;
  ALL_BLOCKS {
    lay(job, b);
    keep_nodes(job, b, 0);
  }
  for (int64_t t = 0; t < job->steps; t++) {
    ALL_BLOCKS prepare(team, b, t);
    if (t == 0) {
      ALL_BLOCKS EACH b->alive[c] = 1.0;
      settle(team);
      /* the node before the first step is kept with the guess as it was */
    }
    ALL_BLOCKS {
      begin(b);
      rates_before(b, &b->now);
    }
    TOTAL(half.given)
    TOTAL(half.felt)
    ALL_BLOCKS {
      rates_after(b, &b->now, &b->first);
      breathed(b);
    }
    TOTAL(shared_made)
    ALL_BLOCKS {
      State *ahead_of_b = then + (b - team->blocks);
      ahead(b, ahead_of_b);
      rates_before(b, ahead_of_b);
    }
    TOTAL(half.given)
    TOTAL(half.felt)
    ALL_BLOCKS {
      rates_after(b, then + (b - team->blocks), &b->second);
      given_off(b);
    }
    TOTAL(shared_given)
    TOTAL(shared_made)
    ALL_BLOCKS {
      finish(b, then + (b - team->blocks));
      keep_nodes(job, b, t + 1);
      keep_steps(job, b, t);
    }
  }
  ALL_BLOCKS {
    double *const *state = job->state;
#define HAND_BACK(name) keep(b, *state++, 0, 0, b->state.name);
    STATE_FIELDS(HAND_BACK)
  }
}

/* How many cases from `first` on make a team: whole enclosures, at most LANES of them unless one alone is larger. */
static int64_t team_from(const Job *job, int64_t first) {
  if (!job->enclosure) return job->cases - first < LANES ? job->cases - first : LANES;
  int64_t size = 0;
  while (first + size < job->cases) {
    int64_t next = size + 1, air = job->enclosure[job->order[first + size]];
    while (first + next < job->cases && job->enclosure[job->order[first + next]] == air) next++;
    if (size && next > LANES) break;
    size = next;
    if (size >= LANES) break;
  }
  return size;
}

/* Walk every case of a job through its trip; 0, or 1 where there was no memory for it. */
EXPORT int march(const Job *job) {
  int64_t largest = 0;
  for (int64_t first = 0, size; first < job->cases; first += size) {
    size = team_from(job, first);
    if (size > largest) largest = size;
  }
  int64_t most_blocks = (largest + LANES - 1) / LANES, numbers = most_blocks * LANES + 1;
  Block *blocks = calloc((size_t)most_blocks + 1, sizeof(Block));
  State *then = calloc((size_t)most_blocks + 1, sizeof(State));
  double *sums = calloc((size_t)numbers + 1, sizeof(double));
  double *air = job->room, *vehicle = air + AIR_COUNT * job->steps * job->places;
  turn(air, job->air, AIR_COUNT, job->steps, job->places);
  turn(vehicle, job->vehicle, VEHICLE_COUNT, job->steps, job->tracks);
  int failed = !blocks || !then || !sums;
  for (int64_t first = 0, size; !failed && first < job->cases; first += size) {
    size = team_from(job, first);
    Team team = {job, blocks, (int)((size + LANES - 1) / LANES), 0, sums, air, vehicle};
    int64_t number = -1, before = -1;
    for (int64_t i = 0; i < size; i++) {
      Block *b = blocks + i / LANES;
      int c = (int)(i % LANES);
      int64_t here = job->order[first + i], air = job->enclosure ? job->enclosure[here] : here;
      if (i && air == before)
        team.sharing = 1;
      else
        number++;
      before = air;
      b->here[c] = here;
      b->enclosure[c] = number;
      b->lanes = c + 1;
    }
    Block *last = blocks + team.count - 1;
    for (int c = last->lanes; c < LANES; c++) {
      last->here[c] = last->here[last->lanes - 1];
      last->enclosure[c] = last->enclosure[last->lanes - 1];
    }
    walk(&team, then);
  }
  free(blocks);
  free(then);
  free(sums);
  return failed;
}
