"""What the boxes of a load have, and what is therefore said of them.

A package has neither frames nor entrance, a twin-wall nuc no mesh floor, a skep no lid; a sheet that speaks of what
a box has not is not believed where it is right.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from planner.app.sheets.facts import GroupFacts
from planner.app.sheets.records import STAYS, Cell
from planner.words import Moment, Sentence, duration, sentence


def is_cage(group: GroupFacts) -> bool:
    """A box that breathes through its sides and has nothing to fly from."""
    return group.vents and not group.entrances


@dataclass(frozen=True)
class Load:
    """What there is on the boxes of some groups taken together."""

    groups: Sequence[GroupFacts]

    def any(self, has: Callable[[GroupFacts], bool]) -> bool:
        return any(map(has, self.groups))

    @property
    def frames(self) -> bool:
        return self.any(lambda group: group.frames) or not self.groups

    @property
    def lids(self) -> bool:
        return self.any(lambda group: group.lid) or not self.groups

    @property
    def entrances(self) -> bool:
        return self.any(lambda group: group.entrances) or not self.groups

    @property
    def hived(self) -> bool:
        """Whether some bees are let into a hive, because their box has no entrance."""
        return self.any(lambda group: not group.entrances)

    @property
    def scraped(self) -> bool:
        """Whether some have a mesh floor below frames, that bees glue shut."""
        return self.any(lambda group: group.frames and group.mesh_floor)

    @property
    def clothed(self) -> bool:
        """Whether some without frames breathe through mesh or cloth below them."""
        return self.any(lambda group: not group.frames and group.mesh_floor)

    @property
    def sides(self) -> bool:
        """Whether some breathe through their sides, and not from below."""
        return self.any(lambda group: group.vents and not group.mesh_floor)

    @property
    def cans(self) -> bool:
        return self.any(lambda group: group.can)

    @property
    def coverable(self) -> bool:
        """Whether there is a screen of which a part can be covered against cold."""
        return self.any(lambda group: group.screen == "on" or is_cage(group)) or not self.groups


# -- in the head, on the receipt -------------------------------------------------------------------


def setup_of(group: GroupFacts) -> Cell:
    """What is on the boxes of a group: roof, floor, sides, can, entrance; of each what they have."""
    return joined([sentence(f"sheets.setup_{name}") for name in _setup(group)])


def _setup(group: GroupFacts) -> Iterator[str]:
    if group.screen != "none":
        yield f"screen_{group.screen}"
    elif group.lid:
        yield "lid"
    if group.mesh_floor:
        yield "mesh" if group.frames else "cloth"
    elif group.lid:
        yield "solid"
    if group.vents:
        yield "cage" if is_cage(group) else "vents"
    if group.can:
        yield "can"
    if group.entrances:
        yield f"entrance_{group.entrance}"


def joined(cells: Sequence[Cell]) -> Cell:
    """One or more cells after another."""
    found = cells[0] if cells else ""
    for cell in cells[1:]:
        found = sentence("sheets.and_comma", first=found, second=cell)
    return found


# -- on the label ----------------------------------------------------------------------------------


def label_air(group: GroupFacts) -> Sentence:
    """From where the boxes of a group get their air, for whoever sets them down somewhere."""
    above, below = group.screen == "on", group.mesh_floor
    if group.vents and not is_cage(group) and (above or below):
        return sentence("sheets.label_air_around")
    if group.vents:
        return sentence("sheets.label_air_sides")
    if above and below:
        return sentence("sheets.label_air")
    if above or below:
        return sentence("sheets.label_air_above" if above else "sheets.label_air_below")
    return sentence("sheets.label_air_entrance")


def label_open(group: GroupFacts, at: Moment) -> Sentence:
    return sentence("sheets.label_open" if group.entrances else "sheets.label_hive", at=at)


# -- before the start ------------------------------------------------------------------------------


def looked_through(load: Load) -> Iterator[tuple[int, Cell]]:
    """What bees breathe through, looked at before the start, with what each line is worth."""
    if load.scraped:
        yield STAYS, sentence("sheets.before_mesh")
    if load.clothed:
        yield STAYS, sentence("sheets.before_cloth")
    if load.sides:
        yield STAYS, sentence("sheets.before_sides")
    if load.cans:
        yield 8, sentence("sheets.before_can")


def tied_down(load: Load) -> Sentence:
    return sentence("sheets.before_straps" if load.frames else "sheets.before_straps_bare")


def checked_names(load: Load) -> Iterator[str]:
    """What is looked at on every box before it is shut, in the order of the hand."""
    if load.scraped:
        yield "mesh"
    if load.clothed:
        yield "cloth"
    if load.sides:
        yield "sides"
    if load.any(lambda group: group.screen == "on"):
        yield "screen"
    elif load.lids:
        yield "screen_off"
    if load.cans:
        yield "can"
    if load.entrances:
        yield "entrance"
    if load.frames:
        yield "frames"
    yield "straps" if load.frames else "straps_bare"
    yield "disease"


# -- on arrival ------------------------------------------------------------------------------------


def opened(load: Load, settle_s: float) -> Iterator[Sentence]:
    """What opening is: an entrance, or a hive that the bees are let into."""
    after = duration(settle_s)
    if load.entrances:
        yield sentence("sheets.arrival_settle", duration=after)
        if load.hived:
            yield sentence("sheets.arrival_hive_too")
    else:
        yield sentence("sheets.arrival_hive", duration=after)


def set_down(load: Load, *, cold: bool) -> Sentence:
    if load.entrances:
        return sentence("sheets.arrival_stand_cold" if cold else "sheets.arrival_stand")
    return sentence("sheets.arrival_stand_bare_cold" if cold else "sheets.arrival_stand_bare")
