"""The answer about a lane in words: the sentence, days, what drives it, what to ask, label and message."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, time
from zoneinfo import ZoneInfo

from planner.app.common.wording import of_100_words, span_words
from planner.app.lane.journeys import posted_s
from planner.app.lane.records import LaneAnswer, Way
from planner.store.lanerules import lane_rules
from planner.words import Moment, Sentence, duration, say, text
from planner.words import sentence as sentence_of

Section = tuple[str, tuple[str, ...]]
MOSTLY = 0.5
DAY_S = 86_400.0
AT_THE_RECEIVERS = ("counter", "doorstep")


def lane_words(answer: LaneAnswer, titles: dict[str, str]) -> tuple[str, tuple[Section, ...]]:
    """The sentence, and sections of lines; ``titles`` of places by name."""
    sections = (
        (say("parcel.section_days"), tuple(_row(answer, way) for way in answer.ways)),
        (say("parcel.section_drives"), tuple(_drives(answer))),
        (say("parcel.section_ask"), tuple(questions(answer, titles))),
        (say("parcel.section_say"), tuple(_cautions(answer))),
        (say("parcel.section_label"), tuple(label(answer))),
        (say("parcel.section_message"), tuple(message(answer))),
    )
    return sentence(answer), tuple((title, lines) for title, lines in sections if lines)


def sentence(answer: LaneAnswer) -> str:
    """The decision with its figures, the late branch and the tolerance."""
    best = answer.best
    if best is None or best.harm_of_100 is None:
        return say("parcel.no_answer")
    gaps: dict[str, object] = {
        "day": day_words(answer, best.posting.day),
        **span_words(best.harm_of_100.low, best.harm_of_100.value, best.harm_of_100.high),
    }
    if answer.decision == "go":
        first = say("parcel.go", **gaps)
    else:
        first = say(f"parcel.{answer.decision}", setup=setup_words(best.setup), **gaps)
    parts = [first, say("parcel.tolerance", harm=f"{answer.tolerance.harm_of_100:g}"), late_words(answer)]
    if not answer.ticked:
        parts.append(say("parcel.not_ticked"))
    return " ".join(part for part in parts if part)


def late_words(answer: LaneAnswer) -> str:
    if answer.late_harm is None:
        return ""
    late, harm = f"{answer.late_of_100:g}", of_100_words(answer.late_harm.value)
    if answer.late_ok:
        return say("parcel.late_good", late=late, harm=harm)
    return say("parcel.late_bad", late=late, harm=harm, most=f"{lane_rules().late_harm_of_100:g}")


def day_words(answer: LaneAnswer, day: date, zone: str = "") -> str:
    """A day with its weekday and date."""
    name = zone or answer.lane.origin.zone
    noon = datetime.combine(day, time(12), ZoneInfo(name)).timestamp()
    return f"{text(Moment(noon, name, 'day_clock')).split()[0]} {text(Moment(noon, name, 'date'))}"


def setup_words(setup: str) -> str:
    return say(f"parcel.setup_{setup}")


def stage_words(kind: str) -> str:
    return say(f"parcel.stage_{kind}")


def its_stage_words(answer: LaneAnswer, number: int) -> str:
    """A stage of the way; where there are several of its kind, which of them."""
    kinds = [stage.kind for stage in answer.lane.stages]
    name = stage_words(kinds[number])
    count = kinds.count(kinds[number])
    if count == 1:
        return name
    return say("parcel.stage_of", stage=name, number=kinds[: number + 1].count(kinds[number]), of=count)


def _row(answer: LaneAnswer, way: Way) -> str:
    day, setup = day_words(answer, way.posting.day), setup_words(way.setup)
    if way.harm_of_100 is None:
        return say("parcel.unknown_row", day=day, setup=setup)
    harm = way.harm_of_100
    row = say("parcel.day_row", day=day, setup=setup, **span_words(harm.low, harm.value, harm.high))
    return say("parcel.day_row_crosses", row=row) if way.posting.crosses else row


def _drives(answer: LaneAnswer) -> Iterator[str]:
    low, usual, high = (duration(3600.0 * hours) for hours in answer.hours)
    yield say("parcel.hours", low=low, usual=usual, high=high)
    for blame in answer.blame[:3]:
        stage = its_stage_words(answer, blame.stage)
        yield say("parcel.blame", stage=stage, harmed=blame.harmed, count=blame.of)
    if answer.blame:
        yield say("parcel.cold") if answer.cold_share > MOSTLY else say("parcel.heat")


def questions(answer: LaneAnswer, titles: dict[str, str]) -> Iterator[str]:
    """What would settle it."""
    for asked in answer.questions:
        yield say(
            "parcel.question",
            place=titles[asked.place],
            stage=its_stage_words(answer, asked.stage),
            there=of_100_words(asked.there.value),
            elsewhere=of_100_words(asked.elsewhere.value),
        )


def arrives(answer: LaneAnswer) -> datetime | None:
    """When the parcel is usually at its receiver's by the stages given, on the best day; before it waits there."""
    if answer.best is None:
        return None
    lane, at = answer.lane, answer.best.posting
    stages = lane.stages[1:] if lane.stages[0].kind == "wait" else lane.stages
    way_s = sum(stage.lasts_s[1] for stage in stages if stage.kind not in AT_THE_RECEIVERS)
    zone = ZoneInfo(lane.destination.zone)
    return datetime.fromtimestamp(posted_s(lane, at.day) + way_s + DAY_S * at.extra, zone)


def _at_night(answer: LaneAnswer) -> Iterator[str]:
    """Stages that bring it at an hour or on a day when nobody delivers."""
    at, (first, last) = arrives(answer), lane_rules().delivered_s
    if at is None or answer.best is None:
        return
    due, zone = answer.best.posting.due, answer.lane.destination.zone
    hour_s = 3600.0 * at.hour + 60.0 * at.minute
    if at.date() != due or not first <= hour_s <= last:
        yield say(
            "parcel.at_night",
            day=day_words(answer, at.date(), zone),
            clock=_clock(hour_s),
            due=day_words(answer, due, zone),
            first=_clock(first),
            last=_clock(last),
        )


def _clock(since_midnight_s: float) -> str:
    hour, minute = divmod(round(since_midnight_s / 60.0), 60)
    return say("locale.clock", hour=f"{hour:02d}", minute=f"{minute:02d}")


def _cautions(answer: LaneAnswer) -> Iterator[str]:
    carrier = answer.lane.carrier
    if answer.ticked and carrier.asked_on is not None:
        yield say("parcel.ticked", date=day_words(answer, carrier.asked_on))
    rules = lane_rules()
    out_s = max((s.lasts_s[2] for s in answer.lane.stages if s.kind == "delivery"), default=0.0)
    if out_s > 3600.0 * rules.delivery_hours:
        yield say("parcel.van_caution", time=duration(out_s), hours=f"{rules.delivery_hours:g}")
    yield from _at_night(answer)
    yield say("parcel.latest_post", clock=_clock(answer.lane.service.post_s))
    yield say("parcel.logger_advice")
    yield say("parcel.scan_advice")
    yield say("parcel.no_hiding")
    yield say("parcel.estimated")


def label(answer: LaneAnswer) -> Iterator[str]:
    """The text of the label; what no answer allows has none."""
    return map(text, label_cells(answer))


def label_cells(answer: LaneAnswer) -> Iterator[Sentence]:
    """The lines of the label, not said yet: it may be read in another language than the answer."""
    if answer.decision not in ("go", "go_if"):
        return
    yield sentence_of("sheets.label_live")
    yield sentence_of("sheets.parcel_label_up")
    if answer.lane.service.delivery_days is not None:
        yield sentence_of("sheets.parcel_label_delivery", count=answer.lane.service.delivery_days)
    yield sentence_of("sheets.parcel_label_ring", name=answer.lane.destination.name)


def message(answer: LaneAnswer) -> Iterator[str]:
    """What to write to the receiver on the day of posting."""
    if answer.decision in ("go", "go_if") and answer.best is not None:
        at, zone = answer.best.posting, answer.lane.destination.zone
        yield say(
            "sheets.parcel_message",
            due=day_words(answer, at.due, zone),
            late=day_words(answer, at.late, zone),
        )
