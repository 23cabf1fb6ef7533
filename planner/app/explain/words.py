"""Every sentence of the pages that explain the program, by its key; gaps by name."""

from __future__ import annotations

from typing import Any

SENTENCES = {
    # the trips
    "trips_title": "What we say of thirty common trips",
    "trips_none": "No results are kept with this installation; the command skepway trade works them out.",
    "trips_rest": "The other trips of the table",
    "head_trip": "Trip",
    "head_keepers_say": "Keepers say",
    "head_we_say": "We say",
    "head_inside": "Inside",
    "head_agreed": "Agreed?",
    "cell_ruined": "ruined: {share}",
    "cell_chilled": "chilled: {share}",
    "cell_same": "the same trip, for chill",
    "cell_peak": "hottest {middle:.0f} {unit} ({low:.0f}-{high:.0f})",
    "cell_low": "coolest {low:.0f} {unit}",
    # the model
    "model_title": "The model in one drawing",
    "model_lead": (
        "Bees and brood make heat; air, walls and water carry it off; what is left warms the box. Every number below "
        "has a range and a grade, and what grades C and D say is assumed, not measured."
    ),
    "grades": (
        "Grades: A measured, published and read; B measured once, or read as an abstract; C handbook, paper or "
        "practice from memory; D engineering estimate."
    ),
    "drawing_title": "One box: what makes heat, what carries it off, and what the bees stand",
    "terms": "Its terms, with their figures",
    "head_term": "Term",
    "head_figure": "Figure (range)",
    "head_grade": "Grade",
    "head_source": "Source",
    "figure": "{value} ({low} to {high}) {unit}",
    "figure_fixed": "{value} {unit}",
    "checks": "What it was checked against",
    "checks_lead": "It meets {met} of {all} checks against published cases, handbooks and common practice.",
    "checks_none": "No list of checks is kept with this installation.",
    "check_met": "met",
    "check_missed": "missed: {reason}",
    "head_check": "Check",
    "head_standing": "Standing",
    "left_out": "What it leaves out",
    "left_out_lead": (
        "What is worth less than it would cost, or what nobody can know beforehand, is left out. Where it makes a box "
        "warmer than we say, mind it yourself."
    ),
    "head_left_out": "Left out",
    "head_worth": "Worth",
    "head_why": "Why",
    "worth_cooler": "the box is {least:g} to {most:g} degrees cooler",
    "worth_warmer": "the box is {least:g} to {most:g} degrees warmer",
    "worth_either": "{least:g} to {most:g} degrees either way",
    "narrowed": "What the trade's judgement leaves of the ranges",
    "narrowed_what": (
        "The ranges were narrowed by asking which of them let the loads that keepers move arrive and ruin those they "
        "say are ruined. That is judgement about dead bees and fallen comb only; it leans towards optimism and says "
        "nothing of brood or queens. Unlike loads fall back on the wide ranges. Your own logger counts more."
    ),
    "narrowed_used": (
        "Variants are drawn from what is left. The curve of typical bees is that of the mean box of it, and calm and "
        "agitated bees are where few boxes go beyond. A number that your own file changes stays as you gave it."
    ),
    "narrowed_none": "The ranges have not been narrowed by the trade's judgement yet; samples use them as they are.",
    "narrowed_size": (
        "Made on {dated} from seed {seed}: {share:.0%} of the sets drawn count in effect, the heaviest hundredth "
        "carries {top:.0%} of the weight, and the judgement counts with an exponent of {exponent:.2f}."
    ),
    "narrowed_out": (
        "Kinds of load that it was not made from judge it: the mean of {inside} of their {rows} trips lies inside what "
        "keepers say, and the band of {covered} meets it."
    ),
    "narrowed_in": (
        "Of the trips it was made from, the mean of {inside} of {rows} lies inside, and the band of {covered} meets it."
    ),
    "narrowed_kind": (
        "Leaving out one kind of load moves no number by more than {most:.1f} of its spread; most does {kind}."
    ),
    "narrowed_rule": (
        "Halving or doubling the rules of the judgement moves no number by more than {most:.1f} of its spread; most "
        "does {rule}."
    ),
    "narrowed_drawing": "Before and after: the middle 90 of 100 within the range of the table, and the median",
    "narrowed_heat": (
        "The heat of bees on the road, all numbers together, was {before_low:.2f} to {before_high:.2f} of the usual "
        "and is {after_low:.2f} to {after_high:.2f}."
    ),
    "before": "before",
    "after": "after",
    "numbers": "Every number of the model",
    "leak": "leaks of boxes, within their range",
    "rule_exponent_halved": "the exponent halved",
    "rule_exponent_doubled": "the exponent doubled",
    "rule_error_halved": "the chance of a wrong row halved",
    "rule_error_doubled": "the chance of a wrong row doubled",
    "rule_spread_halved": "the spread halved",
    "rule_spread_doubled": "the spread doubled",
    # terms of the model
    "term_rest_heat_w_kg": "bees at rest",
    "term_activity_waiting": "waiting: times rest",
    "term_activity_driving": "driving: times rest",
    "term_activity_jolt": "just after a jolt: times rest",
    "term_agitation_gain": "hot and restless: times more",
    "term_quiet_share": "activity left off in heat and good air",
    "term_fanning_w_kg": "fanning in stale air",
    "term_shiver_max_w_kg": "shivering, at most",
    "term_larvae_w_per_1000": "a thousand larvae",
    "term_sealed_w_per_1000": "a thousand sealed cells",
    "term_frame_bees_factor": "bees on a frame, times usual",
    "term_closed_at_night_gain": "more bees at night, times",
    "term_mesh_porosity": "open share of mesh",
    "term_discharge_mesh": "flow through mesh",
    "term_single_sided": "flow through a lone opening",
    "term_foam_porosity": "open share of foam",
    "term_bee_cover_share": "screen covered by bees",
    "term_fan_flow_m3_s": "air moved by a fanning bee",
    "term_evaporation_max_w_kg": "water evaporated, at most",
    "term_crop_water_kg": "water in a bee's crop",
    "term_inside_film_m2k_w": "walls, inside",
    "term_outside_film_still_w_m2k": "walls, outside in still air",
    "term_bee_mass_kg": "mass of a bee",
    "term_outside_radiation_w_m2k": "walls, by radiation",
    "term_fan_share": "share of bees that fan",
    "term_brood_hold_c": "brood nest held at",
    "term_brood_danger_c": "brood in danger",
    "term_new_comb_danger_c": "new comb falls",
    "term_worker_danger_c": "workers in danger",
    "subject_agitation": "How agitated the bees are",
    "subject_bees": "How many bees",
    "subject_resting heat": "Heat of bees and brood",
    "subject_air flow": "Air through the box",
    "subject_water": "Water",
    "subject_box": "The box and what is in it",
    "subject_cold": "In the cold",
    "subject_limits": "Limits and doses",
    "subject_other": "Where it rides, and the rest",
    # the drawing
    "draw_outside": "Outside air",
    "draw_place": "Air where the box rides",
    "draw_box_air": "Air in the box",
    "draw_core": "Bees and brood",
    "draw_stores": "Honey comb",
    "draw_heat": "Heat made",
    "draw_lost": "Heat carried off",
    "draw_limits": "What they stand",
}


def say(key: str, **gaps: Any) -> str:
    """A sentence with its gaps filled."""
    return SENTENCES[key].format(**gaps)
