/* limits.assess: what each box took and whether it was harmed, gathered while it is walked; no history leaves.

   `watch` looks at every step and keeps sums and extremes; `judge` ends a case: doses, what was to spare, verdicts, the
   first harm. What must be looked at once more (the first harm, hours below a limit) is kept for one block at a time. */

#ifndef JUDGE_H
#define JUDGE_H

#include <math.h>

#include "tables.h"

/* -- doses.DoseLaw -------------------------------------------------------------------------------------------------- */

INLINE void law_of(Law *law, int c, double per_s, double at_c, double tenth_k, double floor_c) {
  law->per_s[c] = per_s;
  law->at_c[c] = at_c;
  law->per_k[c] = LN_10 / tenth_k;
  law->tenth_k[c] = tenth_k;
  law->floor_c[c] = floor_c;
  law->floor_per_s[c] = per_s * tenfold(floor_c, at_c, tenth_k);
}

/* DoseLaw.rate: dose per second */
INLINE double rate(const Law *law, int c, double temp_c) {
  return at_least(law->per_s[c] * exponential((temp_c - law->at_c[c]) * law->per_k[c]) - law->floor_per_s[c], 0.0);
}

/* DoseLaw.beyond_k: how far on the harmful side of the floor */
INLINE double beyond_k(const Law *law, int c, double temp_c) {
  return law->tenth_k[c] > 0.0 ? temp_c - law->floor_c[c] : law->floor_c[c] - temp_c;
}

/* DoseLaw.spare_k: kelvin by which the history may shift until the dose is `most` */
static double spare_k(const Law *law, int c, double dose, double most, double lasts_s, double extreme_c) {
  double held = law->floor_per_s[c] * lasts_s;
  double tenths = log10((most + held) / (dose + held));
  double below = dose <= most ? at_least(-beyond_k(law, c, extreme_c), 0.0) : 0.0;
  return fabs(law->tenth_k[c]) * tenths + below;
}

/* -- what is watched -------------------------------------------------------------------------------------------------- */

/* The laws and limits of a block's boxes: doses.brood_heat .. worker_heat, limits.comb_limits; sums and extremes empty. */
PHASE void watch_from(Watch *w, const JudgedBoxes *box, const JudgedParameters *p) {
  EACH {
    law_of(&w->brood_heat, c, 1.0 / (p->brood_dose_h[c] * HOUR_S), p->brood_dose_c[c], p->brood_dose_z_k[c],
           p->brood_dose_floor_c[c]);
    double kept = 1.0 - tenfold(p->brood_cold_floor_c[c], p->brood_cold_c[c], -p->brood_cold_z_k[c]);
    law_of(&w->brood_cold, c, 1.0 / (p->brood_cold_h[c] * HOUR_S) / kept, p->brood_cold_c[c], -p->brood_cold_z_k[c],
           p->brood_cold_floor_c[c]);
    law_of(&w->sperm_heat, c, p->sperm_loss_per_h[c] / HOUR_S, p->sperm_loss_c[c], p->sperm_loss_z_k[c],
           p->sperm_loss_floor_c[c]);
    law_of(&w->sperm_cold, c, p->sperm_cold_per_h[c] / HOUR_S, p->sperm_cold_c[c], -p->sperm_cold_z_k[c],
           p->sperm_cold_floor_c[c]);
    law_of(&w->worker_heat, c, 1.0 / (p->worker_t50_h[c] * HOUR_S), p->worker_t50_c[c], p->worker_t50_z_k[c],
           p->worker_dose_floor_c[c]);
    w->comb_caution_c[c] = box->new_comb[c] > 0.0 ? p->new_comb_caution_c[c] : p->old_comb_caution_c[c];
    w->comb_danger_c[c] = box->new_comb[c] > 0.0 ? p->new_comb_danger_c[c] : p->old_comb_danger_c[c];
    double least_hot_c = at_most(p->brood_caution_c[c], at_most(p->queen_safe_c[c], p->brood_danger_c[c]));
    least_hot_c = at_most(least_hot_c, at_most(p->worker_caution_c[c], p->worker_danger_c[c]));
    w->hot_c[c] = at_most(least_hot_c, at_most(w->comb_caution_c[c], w->comb_danger_c[c]));
    w->edge_share[c] = p->brood_edge_share[c] * box->brood_reach[c];
    w->peak[c] = w->stores_peak[c] = w->warmest[c] = -INFINITY;
    w->low[c] = w->mantle_low[c] = w->shaken_low[c] = w->edge_low[c] = w->coolest[c] = INFINITY;
  }
#define NONE(name) EACH w->name[c] = 0.0;
  SUM_FIELDS(NONE)
}

/* The larger and the smaller of what was seen so far, NaN once anything was. */
INLINE double up_to(double top, double value) { return ((value > top) | (value != value)) ? value : top; }
INLINE double down_to(double low, double value) { return ((value < low) | (value != value)) ? value : low; }

/* Whether any core or edge of the block lies beyond the floor of a law. */
INLINE int any_beyond(const Law *law, const double *temp_c) {
  int any = 0;
  for (int c = 0; c < LANES; c++) any |= !(beyond_k(law, c, temp_c[c]) <= 0.0);
  return any;
}

/* limits._Shut and limits.assess, step by step; `before` are core and stores at the node before. */
PHASE void watch(Watch *w, const JudgedBoxes *box, const JudgedParameters *p, const Seen *seen, double t) {
  Lanes core_c, edge_c, stores_c;
  EACH {
    double closed = seen->closed[c], shaken = closed * seen->moving[c];
    double core = 0.5 * (seen->core_before_c[c] + seen->core_c[c]);
    double stores = 0.5 * (seen->stores_before_c[c] + seen->stores_c[c]);
    double mantle = seen->mantle_c[c];
    double edge = core - w->edge_share[c] * at_least(core - mantle, 0.0);
    core_c[c] = core;
    edge_c[c] = edge;
    stores_c[c] = stores;
    double has_brood = box->has_brood[c] > 0.0 ? 1.0 : 0.0;

    /* extremes: nodes at the end of a step, doses go by the middle */
    double high = closed > 0.0 ? seen->core_c[c] : -INFINITY;
    w->peak_step[c] = (high > w->peak[c]) ? t : w->peak_step[c];
    w->peak[c] = up_to(w->peak[c], high);
    w->stores_peak[c] = up_to(w->stores_peak[c], closed > 0.0 ? seen->stores_c[c] : -INFINITY);
    w->warmest[c] = up_to(w->warmest[c], closed > 0.0 ? core : -INFINITY);
    w->low[c] = down_to(w->low[c], closed > 0.0 ? seen->core_c[c] : INFINITY);
    w->coolest[c] = down_to(w->coolest[c], closed > 0.0 ? core : INFINITY);
    w->edge_low[c] = down_to(w->edge_low[c], closed > 0.0 ? edge : INFINITY);
    w->mantle_low[c] = down_to(w->mantle_low[c], closed > 0.0 ? mantle : INFINITY);
    w->shaken_low[c] = down_to(w->shaken_low[c], shaken > 0.0 ? mantle : INFINITY);
    w->closed_steps[c] += closed;
    w->shaken_steps[c] += shaken;

    /* beyond_s, coma_s, chilled_s: steps beyond each limit */
    double coma = core < p->coma_core_c[c] ? closed : 0.0;
    double chilled = edge < p->brood_chill_c[c] ? closed : 0.0;
    double brood_cold = edge < p->brood_cold_c[c] ? closed * has_brood : 0.0;
    double mantle_chill = mantle < p->mantle_chill_c[c] ? closed : 0.0;
    double mantle_coma = mantle < p->coma_mantle_c[c] ? shaken : 0.0;
    w->coma_steps[c] += coma;
    w->chilled_steps[c] += chilled;
    w->chill_caution[c] += ((chilled * has_brood > 0.0) | (mantle_chill > 0.0)) ? 1.0 : 0.0;
    w->chill_danger[c] += ((brood_cold > 0.0) | (coma > 0.0) | (mantle_coma > 0.0)) ? 1.0 : 0.0;

    /* water that went and that was wanted, gases and moisture of the box air */
    double flow = seen->flow_m3_s[c], evaporation = seen->evaporation_w[c];
    w->evaporated_j[c] += closed > 0.0 ? evaporation : 0.0;
    w->short_j[c] += closed > 0.0 ? at_least(seen->wanted_w[c] - evaporation, 0.0) : 0.0;
    double co2 = seen->co2_share[c] + seen->adults_w[c] * p->co2_m3_per_j[c] / flow;
    double humidity = at_most(humidity_share(seen->around_kg_m3[c], evaporation, flow, seen->saturated_kg_m3[c]), 1.0);
    w->peak_co2[c] = up_to(w->peak_co2[c], closed > 0.0 ? co2 : 0.0);
    w->peak_around_co2[c] = up_to(w->peak_around_co2[c], closed > 0.0 ? seen->co2_share[c] : 0.0);
    w->peak_humidity[c] = up_to(w->peak_humidity[c], closed > 0.0 ? humidity : 0.0);
  }
  int hot = 0;
  for (int c = 0; c < LANES; c++) hot |= (core_c[c] > w->hot_c[c]) | (stores_c[c] > w->hot_c[c]);
  if (hot) EACH {
      double closed = seen->closed[c], core = core_c[c];
      double melting = box->has_comb[c] > 0.0 ? stores_c[c] : -INFINITY;
      w->core_37[c] += core > p->brood_caution_c[c] ? closed : 0.0;
      w->core_38[c] += core > p->queen_safe_c[c] ? closed : 0.0;
      w->core_40[c] += core > p->brood_danger_c[c] ? closed : 0.0;
      w->core_42[c] += core > p->worker_caution_c[c] ? closed : 0.0;
      w->core_45[c] += core > p->worker_danger_c[c] ? closed : 0.0;
      w->comb_caution[c] += melting > w->comb_caution_c[c] ? closed : 0.0;
      w->comb_danger[c] += melting > w->comb_danger_c[c] ? closed : 0.0;
    }
  if (any_beyond(&w->brood_heat, core_c)) EACH w->brood_heat_taken[c] += rate(&w->brood_heat, c, core_c[c]) * seen->closed[c];
  if (any_beyond(&w->sperm_heat, core_c)) EACH w->sperm_heat_taken[c] += rate(&w->sperm_heat, c, core_c[c]) * seen->closed[c];
  if (any_beyond(&w->brood_cold, edge_c)) EACH w->brood_cold_taken[c] += rate(&w->brood_cold, c, edge_c[c]) * seen->closed[c];
  if (any_beyond(&w->sperm_cold, core_c)) EACH w->sperm_cold_taken[c] += rate(&w->sperm_cold, c, core_c[c]) * seen->closed[c];
}

/* -- judging ---------------------------------------------------------------------------------------------------------- */

/* What is kept of a block's walk for a second look: core and stores at nodes, mantle of steps, the vehicle's flags. */
typedef struct {
  const Lanes *core_c, *stores_c, *mantle_c, *closed, *shaken;
  int64_t steps, first; /* of the walk up to its last minute shut, and its first one */
  double step_s;
  double *ordered; /* room for one value a step */
} Course;

/* bees.alive_share the other way round: doses.dead_share */
static double dead_share(double dose, double steepness) { return 1.0 - 1.0 / (1.0 + pow(dose, steepness)); }
/* doses.dose_of */
static double dose_of(double dead, double steepness) { return pow(dead / (1.0 - dead), 1.0 / steepness); }

static double larger(double a, double b) { return a != a || b != b ? NAN : a > b ? a : b; }
static double smaller(double a, double b) { return a != a || b != b ? NAN : a < b ? a : b; }

/* The value at a rank when all are put in order (quickselect). */
static double at_rank(double *values, int64_t count, int64_t rank) {
  int64_t low = 0, high = count - 1;
  while (low < high) {
    double middle = values[low + (high - low) / 2];
    int64_t i = low, j = high;
    while (i <= j) {
      while (values[i] < middle) i++;
      while (values[j] > middle) j--;
      if (i <= j) {
        double held = values[i];
        values[i++] = values[j];
        values[j--] = held;
      }
    }
    if (rank <= j)
      high = j;
    else if (rank >= i)
      low = i;
    else
      break;
  }
  return values[rank];
}

/* limits._Shut._spare_hours: kelvin by which temperatures may fall until they lie below a limit for so many hours */
static double spare_hours(const Course *course, int c, int of_mantle, double lowest, double counted, double limit_c,
                          double hours) {
  double spare = lowest - limit_c;
  if (counted * course->step_s < hours * HOUR_S) return INFINITY;
  if (!(spare < COLD_REACH_K)) return spare;
  int64_t counts_from = course->first, many = course->steps - counts_from;
  for (int64_t t = counts_from; t < course->steps; t++) {
    double temp_c = of_mantle ? course->mantle_c[t][c] : 0.5 * (course->core_c[t][c] + course->core_c[t + 1][c]);
    double counts = of_mantle ? course->shaken[t][c] : course->closed[t][c];
    course->ordered[t - counts_from] = counts > 0.0 ? temp_c : INFINITY;
  }
  double rank = ceil(hours * HOUR_S / course->step_s) - 1.0, last = (double)(many - 1);
  rank = rank > 0.0 ? rank : 0.0;
  return at_rank(course->ordered, many, (int64_t)(rank < last ? rank : last)) - limit_c;
}

/* What the first harm is measured against. */
typedef struct {
  double brood_harm_dose, loss, workers, comb_danger_c, freezing_c, coma_h, coma_mantle_h;
} Harms;

/* limits._first_harm: the step at which the first harm is done; the workers' dose grows as heat alone would make it */
static double first_harm(const Course *course, const Watch *w, int c, const JudgedBoxes *box, const JudgedParameters *p,
                         double worker_dose, const Harms *most) {
  int hot = beyond_k(&w->worker_heat, c, w->warmest[c]) > 0.0;
  double workers_end = 0.0, scale = 0.0;
  for (int pass = hot ? 0 : 1; pass < 2; pass++) {
    double brood_heat = 0.0, brood_cold = 0.0, sperm = 0.0, workers = 0.0, coma = 0.0, dropping = 0.0;
    for (int64_t t = course->first; t < course->steps; t++) {
      double closed = course->closed[t][c], shaken = course->shaken[t][c], mantle = course->mantle_c[t][c];
      double core = 0.5 * (course->core_c[t][c] + course->core_c[t + 1][c]);
      if (hot) workers += closed > 0.0 ? rate(&w->worker_heat, c, core) * course->step_s : 0.0;
      if (pass == 0) continue;
      double edge = core - w->edge_share[c] * at_least(core - mantle, 0.0);
      if (closed > 0.0) {
        if (beyond_k(&w->brood_heat, c, core) > 0.0) brood_heat += rate(&w->brood_heat, c, core) * course->step_s;
        if (beyond_k(&w->brood_cold, c, edge) > 0.0) brood_cold += rate(&w->brood_cold, c, edge) * course->step_s;
        if (beyond_k(&w->sperm_heat, c, core) > 0.0) sperm += rate(&w->sperm_heat, c, core) * course->step_s;
        if (beyond_k(&w->sperm_cold, c, core) > 0.0) sperm += rate(&w->sperm_cold, c, core) * course->step_s;
        if (core < p->coma_core_c[c]) coma += 1.0;
        if (shaken > 0.0 && mantle < p->coma_mantle_c[c]) dropping += 1.0;
      }
      double coldest = closed > 0.0 ? smaller(course->core_c[t + 1][c], mantle) : INFINITY;
      double melting = closed > 0.0 ? course->stores_c[t + 1][c] : -INFINITY;
      int brood = box->has_brood[c] > 0.0, comb = box->has_comb[c] > 0.0;
      if ((brood && (brood_heat > most->brood_harm_dose || brood_cold > 1.0)) || sperm > most->loss ||
          workers * scale > most->workers || (comb && melting > most->comb_danger_c) || coldest < most->freezing_c ||
          coma * (course->step_s / HOUR_S) >= most->coma_h ||
          dropping * (course->step_s / HOUR_S) >= most->coma_mantle_h)
        return (double)t;
    }
    workers_end = workers;
    scale = workers_end > 0.0 ? worker_dose / workers_end : 0.0;
  }
  return (double)(course->steps - 1);
}

enum { CLEAR, CAUTION, HARM, UNKNOWN };

static double level(int caution, int harm) { return harm ? HARM : caution ? CAUTION : CLEAR; }

/* limits.assess for one case, into column `here` of the outcomes */
static void judge(const Course *course, const Watch *w, int c, const JudgedBoxes *box, const JudgedParameters *p,
                  double worker_dose, double *const *out, int64_t here) {
  const double step_s = course->step_s, lasts_s = w->closed_steps[c] * step_s;
  const int missing = w->peak[c] != w->peak[c], brood = box->has_brood[c] > 0.0, comb = box->has_comb[c] > 0.0;
  const double steepness = p->death_steepness[c], known = missing ? NAN : 0.0;

  /* taken: doses taken up, of brood only where there is some */
#define TAKEN(law, extreme) (known + (beyond_k(&w->law, c, extreme) > 0.0 ? w->law##_taken[c] * step_s : 0.0))
  double brood_heat = TAKEN(brood_heat, w->warmest[c]) * brood, brood_cold = TAKEN(brood_cold, w->edge_low[c]) * brood;
  double sperm_heat = TAKEN(sperm_heat, w->warmest[c]), sperm_cold = TAKEN(sperm_cold, w->coolest[c]);
  double stores_peak = comb ? w->stores_peak[c] : NAN;
  double lowest = smaller(w->low[c], w->mantle_low[c]);

  /* spare: kelvin until each harm of heat and of cold */
  double loss = -log1p(-p->queen_harm_loss[c]);
  double dying_h = p->coma_lethal_h[c] * dose_of(p->worker_harm_dead[c], steepness);
  Harms most = {p->brood_harm_dose[c],  loss,
                dose_of(p->worker_harm_dead[c], steepness), w->comb_danger_c[c],
                p->freezing_c[c],       smaller(p->coma_core_h[c], dying_h),
                p->coma_mantle_h[c]};
  double spare[9] = {
      brood ? spare_k(&w->brood_heat, c, brood_heat, most.brood_harm_dose, lasts_s, w->warmest[c]) : INFINITY,
      spare_k(&w->sperm_heat, c, sperm_heat, sperm_cold < loss ? loss - sperm_cold : loss, lasts_s, w->warmest[c]),
      spare_k(&w->worker_heat, c, worker_dose, most.workers, lasts_s, w->warmest[c]),
      comb ? w->comb_danger_c[c] - stores_peak : INFINITY,
      brood ? spare_k(&w->brood_cold, c, brood_cold, 1.0, lasts_s, w->edge_low[c]) : INFINITY,
      spare_k(&w->sperm_cold, c, sperm_cold, sperm_heat < loss ? loss - sperm_heat : loss, lasts_s, w->coolest[c]),
      spare_hours(course, c, 0, w->coolest[c], w->closed_steps[c], p->coma_core_c[c], most.coma_h),
      spare_hours(course, c, 1, w->shaken_low[c], w->shaken_steps[c], p->coma_mantle_c[c], most.coma_mantle_h),
      lowest - p->freezing_c[c],
  };
  int harmed[9], any = 0;
  double hotter = INFINITY, colder = INFINITY;
  for (int i = 0; i < 9; i++) {
    any |= harmed[i] = spare[i] < 0.0;
    if (i < 4)
      hotter = smaller(hotter, spare[i]);
    else
      colder = smaller(colder, spare[i]);
  }

  /* who died, and the five verdicts */
  double frozen = lowest < most.freezing_c ? 1.0 : 0.0;
  double coma_dead = dead_share(w->coma_steps[c] * step_s / (p->coma_lethal_h[c] * HOUR_S), steepness);
  double dropped = p->mantle_share[c] * harmed[7];
  double dead = larger(larger(larger(dead_share(worker_dose, steepness), coma_dead), frozen), dropped);
  int warm = w->peak[c] > p->brood_caution_c[c] || brood_heat > p->brood_warn_dose[c];
  int lost = sperm_heat + sperm_cold > -log1p(-p->queen_warn_loss[c]);
  int soft = comb && stores_peak > w->comb_caution_c[c];
  int chilled = brood && w->chilled_steps[c] * step_s >= p->brood_chill_h[c] * HOUR_S;
  int cooled = chilled || w->mantle_low[c] < p->mantle_chill_c[c];
  double verdict[5] = {
      level(brood && warm, harmed[0]),
      level(lost, harmed[1] || harmed[5]),
      level(dead > p->worker_warn_dead[c], harmed[2] || dead > p->worker_harm_dead[c]),
      level(soft, harmed[3]),
      level(cooled, harmed[4] || harmed[6] || harmed[7] || harmed[8]),
  };
  for (int i = 0; missing && i < 5; i++) verdict[i] = UNKNOWN;

  double first = any && !missing ? first_harm(course, w, c, box, p, worker_dose, &most) : NAN;
  double found[] = {
      known + w->peak[c], known + stores_peak, known + w->low[c], known + w->mantle_low[c],
      brood ? known + w->edge_low[c] : NAN, missing ? NAN : w->peak_step[c], first,
      known + smaller(larger(hotter, -MOST_HEADROOM_K), MOST_HEADROOM_K),
      known + smaller(larger(colder, -MOST_HEADROOM_K), MOST_HEADROOM_K),
      w->evaporated_j[c] * step_s / LATENT_J_KG * ML_PER_KG, w->short_j[c] * step_s / LATENT_J_KG * ML_PER_KG,
      brood_heat, brood_cold, 1.0 - exp(-(sperm_heat + sperm_cold)), worker_dose, known + dead,
      dead > p->ruined_dead[c] || harmed[3], chilled || verdict[4] == HARM,
      w->peak_co2[c], w->peak_around_co2[c], w->peak_humidity[c],
      verdict[0], verdict[1], verdict[2], verdict[3], verdict[4],
      w->core_37[c] * step_s, w->core_38[c] * step_s, w->core_40[c] * step_s, w->core_42[c] * step_s,
      w->core_45[c] * step_s, w->comb_caution[c] * step_s, w->comb_danger[c] * step_s,
      w->chill_caution[c] * step_s, w->chill_danger[c] * step_s,
  };
  for (int i = 0; i < OUTCOME_COUNT; i++) out[i][here] = found[i];
}

#endif
