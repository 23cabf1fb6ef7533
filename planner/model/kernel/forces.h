/* integrate.prepare: the forces of one step, formed from the tables of tracks and places. */

#ifndef FORCES_H
#define FORCES_H

#include "tables.h"
/* -- integrate.prepare: the forces of one step -------------------------------------------------------------------- */

/* The steps after these are asked for while these are walked: where a table is larger than the caches its numbers come
   from far. */
INLINE void fetch(const double *from, int64_t row, int many) {
  if (row == 1) {
    FETCH(from + many);
    FETCH(from + 2 * many - 1);
  } else
    for (int i = many; i < 2 * many; i++) FETCH(from + i * row);
}

/* One field of some steps for every lane; a place's numbers lie together, or those of one time do. */
INLINE void read_lanes(double *to, int64_t wide, const Table *table, const int64_t *column, int one, int64_t t, int many) {
  if (one) {
    const double *from = table->at + t * table->row + column[0] * table->column;
    fetch(from, table->row, many);
    for (int i = 0; i < many; i++, from += table->row) {
      double value = *from;
      EACH to[i * wide + c] = value;
    }
    return;
  }
  for (int c = 0; c < LANES; c++) {
    const double *from = table->at + t * table->row + column[c] * table->column;
    if (!c || column[c] != column[c - 1]) fetch(from, table->row, many);
    for (int i = 0; i < many; i++) to[i * wide + c] = from[i * table->row];
  }
}

/* integrate.prepare: how the vapour of a place's air follows what is given off, by air and by a cold skin */
INLINE void form(Air *air, double step_s) {
  EACH {
    double change = air->change_per_s[c], volume_m3 = air->volume_m3[c];
    double gain = 1.0 / (volume_m3 * at_least(change, LEAST_CHANGE_PER_S));
    air->vapour_gain[c] = change > 1e300 ? 0.0 : gain;
    air->vapour_keep_half[c] = exponential(-0.5 * change * step_s);
    air->skin_keep_half[c] = exponential(-0.5 * (change + air->skin_m3_s[c] / volume_m3) * step_s);
  }
}

INLINE void read_steps(const Job *job, Block *b, int64_t t, int many) {
  const Table *table = job->air;
  const int64_t wide = sizeof(Air) / sizeof(double), vehicle_wide = sizeof(Vehicle) / sizeof(double);
#define READ(name) read_lanes(b->airs[0].name, wide, table++, b->place, b->one_place, t, many);
  AIR_FIELDS(READ)
  for (int i = 0; i < many; i++) form(b->airs + i, job->step_s);
  table = job->vehicle;
#define READ_VEHICLE(name) read_lanes(b->vehicles[0].name, vehicle_wide, table++, b->track, b->one_track, t, many);
  VEHICLE_FIELDS(READ_VEHICLE)
}

/* The steps from t on of the tables, taken for every case: read a few at a time, for each touches a page of its own. */
PHASE void read_on(const Job *job, Block *b, int64_t t, int64_t end) {
  if (end - t >= READ_STEPS)
    read_steps(job, b, t, READ_STEPS);
  else
    read_steps(job, b, t, (int)(end - t));
}

/* integrate._mist: water misted onto each box during each step, kg; none below the temperature at which it chills */
PHASE void mist(Block *b, double step_s) {
  const Boxes *box = &b->box;
  EACH {
    double planned = box->mist_kg[c] > 0.0 ? 1.0 : 0.0;
    double first_s = planned > 0.0 ? box->mist_first_s[c] : 0.0;
    double every_s = planned > 0.0 ? box->mist_every_s[c] : 1.0;
    double riding_s = b->vehicle->riding_s[c];
    double late = at_least((riding_s - first_s) / every_s, -1.0);
    double before = at_least((riding_s - step_s - first_s) / every_s, -1.0);
    double due = (whole(late) - whole(before)) * b->vehicle->on_board[c];
    double base_c = b->air->base_c[c] + b->air->sun_rise_k[c] * b->shift.sun_factor[c] + b->shift.air_offset_k[c];
    double least_c = b->air->least_c[c] + b->shift.place_offset_k[c] * b->air->on_board[c];
    double at_c = at_least(base_c, least_c);
    b->forcing.mist_kg[c] = at_c >= b->p.no_mist_below_c[c] ? due * box->mist_kg[c] : 0.0;
  }
}

/* integrate._dried_w_m2 by walls.wet_skin_w_m2: heat that rain takes off the skins while it dries */
PHASE void dry(Block *b) {
  const Boxes *box = &b->box;
  const Air *air = b->air;
  EACH {
    double speed = air->speed_ms[c] * b->shift.wind_factor[c];
    double convective = b->p.outside_film_still_w_m2k[c] + b->p.outside_film_per_speed[c] * speed;
    double outside = 1.0 / (convective + b->p.outside_radiation_w_m2k[c]);
    double lid = box->lid_m2[c] / (box->lid_m2k_w[c] + outside);
    double per_body = 1.0 / (box->body_m2k_w[c] + outside);
    double base_c = air->base_c[c] + air->sun_rise_k[c] * b->shift.sun_factor[c] + b->shift.air_offset_k[c];
    double leaves = LATENT_HEAT_30C_J_KG * convective / air->heat_j_m3k[c];
    double saturated = saturated_fast_kg_m3(base_c), cooler = saturated_fast_kg_m3(base_c - 1.0);
    double slope = leaves * (saturated - cooler) * outside;
    double wet_skin_w_m2 = leaves * at_least(saturated - air->vapour_kg_m3[c], 0.0) / (1.0 + slope);
    double dried_w_m2 = air->wet_share[c] * wet_skin_w_m2;
    b->forcing.sun_w[c] -= (lid + box->body_m2[c] * per_body) * outside * dried_w_m2;
  }
}

PHASE void prepare(const Team *team, Block *b) {
  const double step_s = team->job->step_s;
  const Boxes *box = &b->box;
  const Parameters *p = &b->p;
  const Air *air = b->air;
  const Vehicle *vehicle = b->vehicle;
  const Shift *shift = &b->shift;
  Forcing *f = &b->forcing;
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
    f->stack_share[c] = air->stack_share[c];

    /* _sun: through walls by the sol-air rule, through clear walls and screens direct */
    double sides_w = air->flank_w_m2[c] * box->long_side_m2[c] + air->end_w_m2[c] * box->short_side_m2[c];
    double soaked = box->absorptance[c] * outside * (lid * air->lid_w_m2[c] + per_body * sides_w);
    double direct = box->sun_transmittance[c] * (box->lid_m2[c] * air->lid_w_m2[c] + sides_w) +
                    box->screen_sun_m2[c] * air->lid_w_m2[c];
    double sun_w = (soaked + direct) * shift->sun_factor[c] - lid * outside * air->sky_w_m2[c];
    f->sun_w[c] = sun_w;

    /* wind through the openings, and the cluster drawn together in that draught */
    double through = box->through_m2[c] * air->pressure_root[c], single = box->single_m2[c];
    double wind_m6_s2 = speed * speed * (through * through + single * single) + SMALL;
    double draught_ms = ROOT(wind_m6_s2) * b->k.draught_per_m2[c] + box->under_screen[c] * speed;
    double film = p->mantle_film_w_m2k[c] + p->mantle_film_per_root[c] * ROOT(draught_ms);
    double packed = box->packed_w_m2k[c];
    double tight = at_most(box->cluster_m2[c] * packed * film / (packed + film), box->core_w_k[c]);
    f->wind_m6_s2[c] = wind_m6_s2;
    f->tight_w_k[c] = tight;
    f->drop_share[c] = tight * b->k.packed_w_k[c];
    f->heat_j_m3k[c] = air->heat_j_m3k[c];
  }
  EACH {
    /* the cold skin of an enclosure, and the vapour of its air */
    f->skin_base_c[c] = (1.0 - air->skin_share[c]) * (air->outside_c[c] + shift->air_offset_k[c]);
    f->skin_share[c] = air->skin_share[c];
    f->skin_m3_s[c] = air->skin_m3_s[c];
    f->vapour_kg_m3[c] = air->vapour_kg_m3[c];
    f->vapour_gain[c] = air->vapour_gain[c];
    f->vapour_keep_half[c] = air->vapour_keep_half[c];
    f->skin_keep_half[c] = air->skin_keep_half[c];
    f->breath_m3_s[c] = air->breath_m3_s[c];
  }
  EACH {
    /* which boxes count, and what their bees are about: _base_activity, _flying, bees.activity, bees.jolt_left */
    double closed = vehicle->closed[c], free = box->open_entrance[c] * (1.0 - vehicle->on_board[c]);
    double flies = (air->ghi_w_m2[c] > p->flight_sun_w_m2[c]) & (air->base_c[c] > p->flight_from_c[c]);
    double flying = free * flies;
    double idling = vehicle->engine_on[c] * vehicle->on_board[c];
    double at_rest = free > 0.0 ? p->activity_resting[c] : p->activity_waiting[c];
    double still = idling > 0.0 ? p->activity_idling[c] : at_rest;
    double base = still + (p->activity_driving[c] - still) * vehicle->shaking[c];
    double jolt = exponential(-vehicle->since_jolt_s[c] * b->k.jolt_per_s[c]);
    f->weight[c] = box->count[c] * air->on_board[c] * closed;
    f->active_s[c] = closed > 0.0 ? step_s : 0.0;
    f->free[c] = free;
    f->inside[c] = 1.0 - p->foragers_share[c] * flying;
    f->fetch_kg_s[c] = flying * box->fetch_kg_s[c];
    f->fan_share[c] = vehicle->moving[c] > 0.0 ? p->fan_moving_share[c] : 1.0;
    f->jolt[c] = jolt;
    f->activity[c] = base + (p->activity_jolt[c] - base) * jolt;
  }
  int wet = 0;
  for (int c = 0; c < LANES; c++) wet |= air->wet_share[c] != 0.0;
  if (wet) dry(b);
  if (b->any_mist)
    mist(b, step_s);
  else
    EACH f->mist_kg[c] = 0.0;
}

#endif
