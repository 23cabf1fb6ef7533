"""Rows of the trade's year that the program does not meet: the share of 512 variants it finds, and why."""

from __future__ import annotations

HEAT = "bees that are shut and shaken are taken to work harder, on the whole, than loads that arrive allow"
CALM = "of the range of heat, much is too little for even a gummed floor to hold"
COLD = "clusters make whatever heat the cold asks for, and nothing freezes to death"
WET = "neither rain nor spilt syrup on the bees can be told to the program"

RUINED = {
    "doubles_12_frames_cool": (0.21, HEAT),
    "doubles_15_frames_mild": (0.35, HEAT),
    "doubles_18_frames_mild": (0.38, HEAT),
    "doubles_12_frames_warm_night_wetted": (0.22, HEAT),
    "singles_9_frames_after_hot_day": (0.33, HEAT),
    "nuc_5_frames_cabin_cooled": (0.49, HEAT),
    "card_nuc_cabin_short": (0.18, HEAT),
    "twinwall_nuc_cabin_windows_open": (0.16, HEAT),
    "nucs_estate_windows_open_morning": (0.29, HEAT),
    "gummed_hive_estate_shut_mild": (0.33, CALM),
    "half_open_floor_estate_shut": (0.16, HEAT),
    "twinwall_nuc_cabin_cooled": (0.38, HEAT),
    "nuc_parked_in_shade_windows_open": (0.16, HEAT),
    "packages_truck_spring_spaced": (0.37, HEAT),
    "skep_in_cloth_cabin": (0.36, HEAT),
    "half_frame_hard_frost": (0.00, COLD),
    "cast_open_bed_hard_frost": (0.00, COLD),
    "two_frames_screens_open_bed_frost": (0.00, COLD),
    "package_open_bed_hard_frost": (0.00, COLD),
    "packages_wet_with_syrup_cold_night": (0.01, WET),
    "wet_cast_cold_rain": (0.00, WET),
    "railway_wired_tops_july": (0.18, HEAT),
    "four_hundred_miles_alternate_frames": (0.18, HEAT),
    "skeps_by_cart_to_the_heath": (0.32, HEAT),
}

CHILLED = {
    "doubles_6_frames_winter_haul": (0.00, COLD),
    "two_frames_roof_screen_open_bed": (0.00, COLD),
    "mating_nucs_trailer_frost": (0.00, COLD),
    "half_frame_hard_frost": (0.02, COLD),
    "cast_open_bed_hard_frost": (0.00, COLD),
    "two_frames_screens_open_bed_frost": (0.00, COLD),
    "package_open_bed_hard_frost": (0.00, COLD),
    "packages_wet_with_syrup_cold_night": (0.01, WET),
    "wet_cast_cold_rain": (0.00, WET),
}
