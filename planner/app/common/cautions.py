"""The cautions that go with every answer: advice with a margin, never permission (common practice, no source)."""

from __future__ import annotations

ALWAYS = (
    "This is advice with a margin, never permission. The law on driving hours, weight, towing and securing loads "
    "comes first; never skip a legal break for the bees.",
    "Stings can kill within minutes. Have a veil and suit to hand, a telephone with the emergency number, and an "
    "auto-injector where one is prescribed. Trouble breathing or a faint: lie flat, call, go to hospital.",
    "Strap every box twice, at right angles. Leave no open entrance near people by day.",
    "Movement and disease rules change within a season: ask your bee inspector before the boxes are shut.",
    "After a crash keep people far back, call the emergency services and an association of beekeepers, and give an "
    "honest count of the boxes.",
)

SIGNS = (
    (
        "an even hum that rises with bumps and sinks again",
        "working and coping",
        "carry on; mist if it is due",
    ),
    (
        "the roar rises, bees crowd the screen",
        "losing ground",
        "drive on if moving cools them; else shade, open air, water through the mesh, more air now",
    ),
    (
        "silence where there was a hum, a hot lid",
        "collapse, not relief",
        "away from people and traffic, suit on, open the box at once; never inside a vehicle or beside a road",
    ),
    ("honey or wet runs from the floor", "comb is failing", "as for silence"),
    (
        "bees loose in the cab",
        "a leak",
        "slow down, pull off safely, windows open, veil on; do not drive with many loose",
    ),
    ("box quiet and cool, a tight cluster", "cold", "out of the wind, cover part of the screen, no water"),
)
"""The driver's page: sign, meaning, what to do (common practice, no source)."""
