"""Rows of the trade's year that the program does not meet: the share of 512 variants it finds, and why."""

from __future__ import annotations

BREATH = "an open entrance breathes too little, and the bees work for the whole of the drive"
HEAT = "shut bees with air enough are taken to work as hard, and for as long, as shaken ones without"
CALM = "calm bees on a cool night make so little heat that even a gummed floor carries it off"
COLD = "clusters make whatever heat the cold asks for, and nothing freezes to death"
WET = "neither rain nor spilt syrup on the bees can be told to the program"

RUINED = {
    "doubles_8_frames_cool": (0.28, BREATH),
    "doubles_10_frames_cool": (0.46, BREATH),
    "doubles_12_frames_cool": (0.51, BREATH),
    "doubles_15_frames_mild": (0.71, BREATH),
    "doubles_18_frames_mild": (0.74, BREATH),
    "doubles_12_frames_warm_night_wetted": (0.62, BREATH),
    "singles_7_frames_cold_desert_night": (0.40, BREATH),
    "singles_9_frames_after_hot_day": (0.72, BREATH),
    "dadants_10_frames_trailer": (0.16, HEAT),
    "doubles_10_frames_held_at_night": (0.49, BREATH),
    "jam_at_noon_soaked": (0.70, BREATH),
    "delayed_morning": (0.41, BREATH),
    "cloudy_day_rolling": (0.28, BREATH),
    "nuc_4_frames_cabin_cool_day": (0.15, HEAT),
    "nuc_5_frames_cabin_cooled": (0.58, HEAT),
    "card_nuc_cabin_short": (0.16, HEAT),
    "twinwall_nuc_cabin_windows_open": (0.34, HEAT),
    "nucs_estate_windows_open_morning": (0.45, HEAT),
    "gummed_hive_estate_shut_mild": (0.47, CALM),
    "half_open_floor_estate_shut": (0.23, HEAT),
    "twinwall_nuc_cabin_cooled": (0.62, HEAT),
    "nuc_saloon_boot_half_hour": (0.19, HEAT),
    "hive_clean_floor_estate_night": (0.18, HEAT),
    "foam_shut_winter_hour": (0.24, HEAT),
    "nuc_parked_in_shade_windows_open": (0.29, HEAT),
    "packages_truck_spring_spaced": (0.45, HEAT),
    "packages_in_shade_warm": (0.24, HEAT),
    "package_cabin_four_hours": (0.31, HEAT),
    "skep_in_cloth_cabin": (0.31, HEAT),
    "half_frame_hard_frost": (0.00, COLD),
    "cast_open_bed_hard_frost": (0.00, COLD),
    "two_frames_screens_open_bed_frost": (0.15, COLD),
    "package_open_bed_hard_frost": (0.00, COLD),
    "packages_wet_with_syrup_cold_night": (0.00, WET),
    "wet_cast_cold_rain": (0.00, WET),
    "strong_single_frost": (0.29, HEAT),
    "railway_wired_tops_july": (0.41, BREATH),
    "four_hundred_miles_alternate_frames": (0.32, BREATH),
    "skeps_by_cart_to_the_heath": (0.30, HEAT),
}

CHILLED = {
    "doubles_6_frames_winter_haul": (0.01, COLD),
    "two_frames_roof_screen_open_bed": (0.00, COLD),
    "mating_nucs_trailer_frost": (0.00, COLD),
    "half_frame_hard_frost": (0.08, COLD),
    "cast_open_bed_hard_frost": (0.00, COLD),
    "two_frames_screens_open_bed_frost": (0.15, COLD),
    "package_open_bed_hard_frost": (0.00, COLD),
    "packages_wet_with_syrup_cold_night": (0.00, WET),
    "wet_cast_cold_rain": (0.00, WET),
}
