/* balance.rates: the balance of heat and water at one instant. */

#ifndef BALANCE_H
#define BALANCE_H

#include "tables.h"
/* -- balance.rates: the balance of heat and water at one instant --------------------------------------------------- */

/* between_boxes: by how much the boxes warm the air around them, and what a watt more adds. */
INLINE void between_boxes(Block *b, const State *state) {
  const Forcing *f = &b->forcing;
  Half *h = &b->half;
  int row = 0;
  for (int c = 0; c < LANES; c++) row |= f->stack_share[c] != 0.0;
  if (row)
    EACH {
      double wind = 1.0 - f->stack_share[c];
      double stated = b->k.per_stated_k[c] * f->resistance_k_w[c] * MAGNITUDE(state->shared_w[c]);
      double pull = f->stack_share[c] * (stated + SMALL);
      double flow = ROOT(wind + pull);
      for (int i = 0; i < ROW_ROUNDS; i++) flow = (2.0 * flow * flow * flow + pull) / (3.0 * flow * flow - wind);
      double resistance = f->resistance_k_w[c] / flow;
      h->rise_k[c] = resistance * state->shared_w[c];
      h->per_w[c] = resistance * 2.0 * flow * flow / (3.0 * flow * flow - wind);
    }
  else
    EACH {
      h->rise_k[c] = f->resistance_k_w[c] * state->shared_w[c];
      h->per_w[c] = f->resistance_k_w[c];
    }
}

/* Up to the heat that a case gives its enclosure. */
PHASE void rates_before(Block *b, const State *state) {
  const Boxes *box = &b->box;
  const Coefficients *k = &b->k;
  const Forcing *f = &b->forcing;
  Half *h = &b->half;
  between_boxes(b, state);
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
    double soaked = at_most(at_least(state->mist_kg[c], 0.0) * k->soaked_per_kg[c], 1.0);
    double tightness = alive * answer(&k->tightness, c, core) * (1.0 - soaked);
    double breath = 1.0 - (1.0 - alive) * box->dead_block_share[c];
    double film = box->core_w_k[c] - tightness * (box->core_w_k[c] - f->tight_w_k[c]) +
                  at_work * answer(&k->spread_w_k, c, core);
    double most_m3_s = box->fan_m3_s[c] * f->fan_share[c] * (1.0 - bearded * k->bearded_fanning[c]);
    double fanned_m3_s = at_most(at_work * answer(&k->fanning_m3_s, c, core), most_m3_s);
    double steady = fanned_m3_s + box->leak_m3_s[c];
    double comb = film + box->stores_w_k[c];
    double source = film * core + box->stores_w_k[c] * stores + f->sun_w[c];
    double around_c = at_least(f->base_c[c] + h->rise_k[c], f->least_c[c]);

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
    double per_total = 1.0 / total, own = source * per_total, escape = out * per_total;
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
    double lead_k = h->rise_k[c] - h->per_w[c] * state->shared_w[c];
    double free = (f->base_c[c] + lead_k + h->per_w[c] * given) / (h->per_w[c] * felt + 1.0);
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
    double fetched = f->fetch_kg_s[c] * (1.0 - at_most(state->water_kg[c] * k->water_per_kg[c], 1.0));

    /* bees.metabolic_heat: adults at their own mean temperature, brood in the core */
    double drop = f->drop_share[c] * tightness * (core - box_air);
    double resting_w = heat_at(&k->resting, c, core - MEAN_DROP * drop);
    double brood_w = heat_at(&k->brood, c, core);
    double active_w = resting_w * f->activity[c];

    /* _stress: bees that are shut in grow restless by damp air, by carbon dioxide or by a jolt */
    double humidity = humidity_share(around, evaporation, flow, saturated);
    double co2 = state->co2_share[c] + active_w * p->co2_m3_per_j[c] / flow;
    double damp = ramp(humidity, p->humid_from_share[c], k->humid_per_share[c]);
    double stuffy = ramp(co2, p->co2_alert_share[c], k->restless_per_share[c]);
    double stress = k->confined[c] * at_least(at_least(damp, stuffy), f->jolt[c]);
    double agitation = h->restless[c] * stress;

    /* in the heat and in good air they sit still */
    active_w = active_w - h->quiet[c] * (1.0 - at_least(stress, f->jolt[c])) * (active_w - resting_w);

    /* _stale: more of them fan, in vain, where the air stays stale although they fan all they can */
    double most_flow = flow + h->most_m3_s[c] - h->fanned_m3_s[c];
    double co2_left = state->co2_share[c] + (active_w + brood_w) * p->co2_m3_per_j[c] / most_flow;
    double stale = ramp(co2_left, p->stale_from_share[c], k->stale_per_share[c]);

    double wanted_w = at_least(
        at_most(active_w * (agitation + 1.0) + h->vain_w[c] * stale, box->ceiling_w[c]), h->shivering_w[c]);
    double adults_w = at_most(at_work * h->awake[c] * wanted_w, at_least(state->fuel_j[c], 0.0) * k->fuel_end_per_s[c]);

    /* between core, stores and box air */
    double between_w_k = box->between_w_k[c] * (1.0 - tightness);
    double between = between_w_k * (core - stores);
    double to_air = film * (core - box_air);
    r->core_k_s[c] = (adults_w + brood_w - evaporation - to_air - between) * k->core_k_j[c];
    r->stores_k_s[c] = (between - box->stores_w_k[c] * (stores - box_air)) * k->stores_k_j[c];
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

#endif
