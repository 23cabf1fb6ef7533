/* The march, compiled: the equations of integrate.py, balance.py, bees.py, doses.py and walls.py, term by term.

   The numpy march is the reference; whoever changes a term there changes it here, in the function of the same name.
   Names, order and units are those of the Python. A block of cases is walked through time together, its numbers in
   tables of LANES columns; every loop over the lanes is free of branches, so that any compiler turns it into vector
   instructions. NaN in a case gives NaN out for that case: bounds are written so that NaN passes.

   Only C11 and the hardware's square root are used. Python calls it through ctypes, without its lock. */

#include "forces.h"
#include "judge.h"
#include "step.h"

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
  b->one_place = b->one_track = 1;
  for (int c = 1; c < LANES; c++) {
    b->one_place &= b->place[c] == b->place[0];
    b->one_track &= b->track[c] == b->track[0];
  }
  b->any_mist = 0;
  for (int c = 0; c < LANES; c++) b->any_mist |= b->box.mist_kg[c] + b->box.wet_kg[c] > 0.0;
  coefficients_of(b);
  if (!job->outcomes) return;
  column = job->judged_boxes;
#define FILL_JUDGED_BOX(name) fill(b->judged_box.name, column++, b);
  JUDGED_BOX_FIELDS(FILL_JUDGED_BOX)
  column = job->judged_parameters;
#define FILL_JUDGED_PARAMETER(name) fill(b->judged_p.name, column++, b);
  JUDGED_PARAMETER_FIELDS(FILL_JUDGED_PARAMETER)
  watch_from(&b->watch, &b->judged_box, &b->judged_p);
}

/* A step watched, and what of it is looked at once more kept. */
static void look_at(Block *b, int64_t t) {
  Seen seen = {b->vehicle->closed,      b->vehicle->moving,          b->core_c[t],           b->core_c[t + 1],
               b->stores_c[t],         b->stores_c[t + 1],         b->mantle_c[t],         b->first.flow_m3_s,
               b->first.evaporation_w, b->first.wanted_w,          b->first.adults_w,      b->first.saturated_kg_m3,
               b->state.around_kg_m3,  b->state.co2_share};
  memcpy(b->core_c[t + 1], b->state.core_c, sizeof(Lanes));
  memcpy(b->stores_c[t + 1], b->state.stores_c, sizeof(Lanes));
  memcpy(b->mantle_c[t], b->first.mantle_c, sizeof(Lanes));
  memcpy(b->closed[t], b->vehicle->closed, sizeof(Lanes));
  EACH b->shaken[t][c] = b->vehicle->closed[c] * b->vehicle->moving[c];
  watch(&b->watch, &b->judged_box, &b->judged_p, &seen, (double)t);
}

static void judge_block(const Team *team, const Block *b) {
  const Job *job = team->job;
  Course course = {b->core_c, b->stores_c, b->mantle_c, b->closed, b->shaken, team->last, team->first, job->step_s,
                   team->ordered};
  for (int c = 0; c < b->lanes; c++)
    judge(&course, &b->watch, c, &b->judged_box, &b->judged_p, b->state.worker_dose[c], job->outcomes, b->here[c]);
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

/* The steps that are walked. Where no history is kept, only those from the first to the last in which any box of the
   team is shut: before and after it a box stands still, in air that keeps nothing of the minute before. */
static void shut_from_to(Team *team) {
  const Job *job = team->job;
  team->first = 0;
  team->last = job->steps;
  if (!job->outcomes) return;
  int64_t first = job->steps, last = 0;
  ALL_BLOCKS for (int c = 0; c < b->lanes; c++) {
    const Table *closed = job->vehicle;
    const double *at = closed->at + b->track[c] * closed->column;
    if (c && b->track[c] == b->track[c - 1]) continue;
    for (int64_t t = 0; t < first; t++)
      if (at[t * closed->row] > 0.0) first = t;
    for (int64_t t = job->steps; t > last; t--)
      if (at[(t - 1) * closed->row] > 0.0) last = t;
  }
  if (first >= last) return;
  team->first = first;
  team->last = last;
}

static void walk(Team *team, State *then) {
  const Job *job = team->job;
  ALL_BLOCKS {
    lay(job, b);
    keep_nodes(job, b, 0);
  }
  shut_from_to(team);
  if (job->outcomes) ALL_BLOCKS {
      memcpy(b->core_c[team->first], b->state.core_c, sizeof(Lanes));
      memcpy(b->stores_c[team->first], b->state.stores_c, sizeof(Lanes));
    }
  for (int64_t t = team->first; t < team->last; t++) {
    int64_t ahead_of = (t - team->first) % READ_STEPS;
    ALL_BLOCKS {
      if (!ahead_of) read_on(job, b, t, team->last);
      b->air = b->airs + ahead_of;
      b->vehicle = b->vehicles + ahead_of;
      prepare(team, b);
    }
    if (t == team->first) {
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
      if (job->outcomes) look_at(b, t);
    }
  }
  if (job->outcomes) ALL_BLOCKS judge_block(team, b);
  ALL_BLOCKS {
    double *const *state = job->state;
#define HAND_BACK(name) keep(b, *state++, 0, 0, b->state.name);
    STATE_FIELDS(HAND_BACK)
  }
}

/* How many cases from `first` on make a team: whole enclosures, as many as fill the lanes of one block, or nearly those
   of a few; an enclosure larger than that by itself. */
static int64_t team_from(const Job *job, int64_t first) {
  if (!job->enclosure) return job->cases - first < LANES ? job->cases - first : LANES;
  int64_t size = 0, best = 0;
  double best_use = 0.0;
  while (first + size < job->cases) {
    int64_t next = size + 1, air = job->enclosure[job->order[first + size]];
    while (first + next < job->cases && job->enclosure[job->order[first + next]] == air) next++;
    int64_t blocks = (next + LANES - 1) / LANES;
    if (size && blocks > TEAM_BLOCKS) break;
    double use = (double)next / (double)(blocks * LANES);
    size = next;
    if (use > best_use) {
      best_use = use;
      best = size;
    }
    if (use > 0.9) break;
  }
  return best;
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
  int64_t rows = 5 * job->steps + 2;
  Lanes *course = job->outcomes ? malloc((size_t)(most_blocks * rows + 1) * sizeof(Lanes)) : NULL;
  double *ordered = malloc((size_t)(job->steps + 1) * sizeof(double));
  int failed = !blocks || !then || !sums || !ordered || (job->outcomes && !course);
  for (int64_t i = 0; !failed && course && i < most_blocks; i++) {
    Lanes *at = course + i * rows;
    blocks[i].core_c = at;
    blocks[i].stores_c = at + job->steps + 1;
    blocks[i].mantle_c = at + 2 * job->steps + 2;
    blocks[i].closed = at + 3 * job->steps + 2;
    blocks[i].shaken = at + 4 * job->steps + 2;
  }
  for (int64_t first = 0, size; !failed && first < job->cases; first += size) {
    size = team_from(job, first);
    Team team = {job, blocks, (int)((size + LANES - 1) / LANES), 0, 0, 0, sums, ordered};
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
  free(course);
  free(ordered);
  return failed;
}
