"""Rows of the trade's year that the program does not meet: the share of 512 variants it finds, and why."""

from __future__ import annotations

JOLT = "flat on a seat its mesh breathes by a fifth, and a jolt by agitated bees is more than that lets out"
STILL = (
    "its mesh stands flat on the load floor of a shut car, where half of it breathes little more than none"
)
CALM = "of the range of heat, a part is too little for even a gummed floor to hold"
DEATH = "it stays near 47 C, where the range of what workers bear decides, from an hour to days"
WINTER = (
    "outer bees of a small colony are kept as warm as those of a large one; shaken, keepers see them give way"
)
EDGE = "half a frame of brood under one frame of bees is taken to lie too near their surface"
SYRUP = "spilt syrup is told as water, which dries; syrup stays and glues"

RUINED = {
    "nuc_5_frames_cabin_cooled": (0.27, JOLT),
    "gummed_hive_estate_shut_mild": (0.56, CALM),
    "half_open_floor_estate_shut": (0.16, STILL),
    "strong_single_meshed_afternoon": (0.53, DEATH),
    "packages_wet_with_syrup_cold_night": (0.12, SYRUP),
}

CHILLED = {
    "doubles_6_frames_winter_haul": (0.33, WINTER),
    "mating_nucs_van_cool": (0.17, EDGE),
    "packages_wet_with_syrup_cold_night": (0.14, SYRUP),
}
