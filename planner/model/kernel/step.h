/* integrate.advance: one Heun step. */

#ifndef STEP_H
#define STEP_H

#include "balance.h"
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
  double dry = 1.0 - at_most(left_kg * k->dry_per_kg[c], 1.0);
  double humidity =
      humidity_share(state->around_kg_m3[c], now->evaporation_w[c], now->flow_m3_s[c], now->saturated_kg_m3[c]);
  double humid = ramp(humidity, p->humid_from_share[c], k->humid_per_share[c]);
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
    double dose = dt * dose_rate(b, c, core_c); /* what is not known once a box is open adds nothing */
    then->worker_dose[c] = now->worker_dose[c] + (dt > 0.0 ? dose : 0.0);
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

#endif
