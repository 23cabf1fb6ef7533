"""Rows of the trade's year that the program does not meet: the share of 512 variants it finds, and why."""

from __future__ import annotations

HEAT = "bees that are shut and shaken are taken to work harder, on the whole, than loads that arrive allow"
CALM = "of the range of heat, much is too little for even a gummed floor to hold"
COLD = "outer bees are kept warmer than keepers see them, or too few of the variants drop them"
EDGE = "the outermost brood is taken to lie too near the surface of the bees that cover it"
WET = "neither rain nor spilt syrup on the bees can be told to the program"

RUINED = {
    "doubles_10_frames_cool": (0.17, HEAT),
    "doubles_12_frames_cool": (0.31, HEAT),
    "doubles_15_frames_mild": (0.49, HEAT),
    "doubles_18_frames_mild": (0.51, HEAT),
    "doubles_12_frames_warm_night_wetted": (0.34, HEAT),
    "singles_9_frames_after_hot_day": (0.42, HEAT),
    "doubles_10_frames_held_at_night": (0.16, HEAT),
    "jam_at_noon_soaked": (0.15, HEAT),
    "nuc_5_frames_cabin_cooled": (0.63, HEAT),
    "card_nuc_cabin_short": (0.18, HEAT),
    "twinwall_nuc_cabin_windows_open": (0.18, HEAT),
    "nucs_estate_windows_open_morning": (0.39, HEAT),
    "gummed_hive_estate_shut_mild": (0.44, CALM),
    "half_open_floor_estate_shut": (0.32, HEAT),
    "twinwall_nuc_cabin_cooled": (0.41, HEAT),
    "nuc_saloon_boot_half_hour": (0.17, HEAT),
    "hive_clean_floor_estate_night": (0.27, HEAT),
    "nuc_parked_in_shade_windows_open": (0.17, HEAT),
    "packages_truck_spring_spaced": (0.17, HEAT),
    "swarm_3kg_mesh_evening": (0.23, HEAT),
    "skep_in_cloth_cabin": (0.41, HEAT),
    "cast_open_bed_hard_frost": (0.30, COLD),
    "packages_wet_with_syrup_cold_night": (0.01, WET),
    "wet_cast_cold_rain": (0.01, WET),
    "railway_wired_tops_july": (0.16, HEAT),
    "four_hundred_miles_alternate_frames": (0.18, HEAT),
    "skeps_by_cart_to_the_heath": (0.31, HEAT),
}

CHILLED = {
    "doubles_6_frames_winter_haul": (0.44, COLD),
    "mating_nucs_van_cool": (0.15, EDGE),
    "cast_open_bed_hard_frost": (0.37, COLD),
    "packages_wet_with_syrup_cold_night": (0.01, WET),
    "wet_cast_cold_rain": (0.01, WET),
    "strong_single_frost": (0.27, EDGE),
}
