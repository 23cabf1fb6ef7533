"""What a kind of box has: the one place that knows it of the catalogue, for sheets and for checks."""

from __future__ import annotations

from planner.model.records import BoxType, Group


def parts_of(box: BoxType, group: Group) -> dict[str, bool]:
    """What a kind of box has, as the fields of the sheets' ``GroupFacts`` call it; of the mesh in its floor and
    sides only what is open."""
    framed = box.frames > 0.0
    return {
        "frames": framed,
        "lid": framed or box.roof_screen_m2 > 0.0,
        "entrances": box.entrance_m2 > 0.0,
        "mesh_floor": group.floor == "mesh" and box.floor_mesh_m2 > 0.0,
        "vents": group.side_vents_open and box.side_vent_m2 > 0.0,
        "can": not framed and group.syrup_can_kg > 0.0,
    }
