"""How sure: every candidate in the same samples, the chosen one's five chances, comparisons, sources of uncertainty."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QEvent, QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QHelpEvent, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QToolButton, QWidget

from planner.app.common.limits_words import degrees_text, peak_limits
from planner.app.plan.pictures import LEVEL_COLOUR
from planner.app.plan.results import CAUTION, VERDICTS, Choice, Limit
from planner.app.plan.words import choice_text
from planner.model.records import Floats
from planner.ui.look import clock, theme
from planner.ui.look import paint as p
from planner.ui.look import strings as s
from planner.ui.look.chart_view import shade
from planner.ui.look.panel import ShortText
from planner.ui.pages.book import Page
from planner.ui.work.background_query import SEED, BackgroundQuery, Going, Subject
from planner.ui.work.runner import Watch
from planner.units import METRIC, UnitSystem

if TYPE_CHECKING:
    from planner.app.chance.race import Chances
    from planner.app.chance.sensitivity import VarianceShares
    from planner.ui.work.data_source import DataSource
    from planner.ui.work.session import Session

BELOW_LIMITS_K, ABOVE_LIMITS_K, MOST_C = 3.0, 1.0, 60.0
"""The scale of peaks reaches so far beyond its limits, and to no higher temperature."""


@dataclass(frozen=True, eq=False)
class SampleRequest:
    """A plan to be tried in samples; ``data_source`` fetches the ensemble's members where they are wanted."""

    subject: Subject
    data_source: DataSource | None


def ask_chances(asked: SampleRequest, watch: Watch) -> Iterator[Chances]:
    """Draw the samples, sharper from round to round."""
    from concurrent.futures import ThreadPoolExecutor

    from planner.app.chance.race import chances

    subject, generator = asked.subject, np.random.default_rng(SEED)
    members = asked.data_source.members(subject.plan, watch.should_stop) if asked.data_source else ()
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        yield from chances(
            subject.plan,
            subject.catalogue,
            generator,
            weathers=members,
            executor=pool,
            on_progress=watch.on_progress,
            should_stop=watch.should_stop,
        )


def ask_sensitivity(subject: Subject, _: Watch) -> VarianceShares:
    """Where the uncertainty about the chosen candidate comes from."""
    from planner.app.chance.sensitivity import sensitivity

    return sensitivity(subject.plan, subject.choice, subject.catalogue, np.random.default_rng(SEED))


class SurePage(Page):
    """Four panels: candidates, the chosen one's chances, what beats what, where the uncertainty comes from."""

    def __init__(self, session: Session) -> None:
        super().__init__(session)
        runner = session.runner
        self.chances = BackgroundQuery(runner, "chances", ask_chances)
        self.sensitivity = BackgroundQuery(runner, "doubt", ask_sensitivity)
        self.rank, self.five, self.share = RankView(), FiveView(), SensitivityView()
        self.verdict = ShortText("", 4, bold=True)
        self.words = p.Sentences(s.say(s.SURE_DUELS))
        self.rank_panel = self.hang(s.SURE_RANK, s.SURE_RANK_GUIDE, self.rank, self.chances)
        self.five_panel = self.hang(
            s.SURE_FIVE, s.SURE_FIVE_GUIDE, p.under(self.verdict, self.five), self.chances
        )
        self.words_panel = self.hang(s.SURE_DUELS, s.SURE_DUELS_GUIDE, self.words, self.chances)
        self.share_panel = self.hang(
            s.SURE_SENSITIVITY, s.SURE_SENSITIVITY_GUIDE, self.share, self.sensitivity
        )
        self.going = Going(self.chances)
        self.rank_panel.head.addWidget(self.going)
        self.ensemble = QToolButton()
        self.ensemble.setCheckable(True)
        self.ensemble.setText(s.say(s.SURE_ENSEMBLE))
        self.ensemble.setToolTip(s.say(s.SURE_ENSEMBLE_HINT))
        self.ensemble.hide()
        self.ensemble.toggled.connect(lambda _: self.ask() if self.subject else None)
        self.rank_panel.head.addWidget(self.ensemble)
        self.share_panel.head.addWidget(Going(self.sensitivity))
        upper = p.split(Qt.Orientation.Horizontal, (self.rank_panel, 62), (self.five_panel, 38))
        lower = p.split(Qt.Orientation.Horizontal, (self.words_panel, 62), (self.share_panel, 38))
        p.fill(self, p.split(Qt.Orientation.Vertical, (upper, 54), (lower, 46)))
        for query in (self.chances, self.sensitivity):
            query.answered.connect(lambda _: self.show_answers())
        self.rank.chosen.connect(session.choose)

    def ask(self) -> None:
        if self.subject is None:
            return
        plan, choice = self.subject.plan, self.subject.choice
        forecast = plan.weather.kind == "forecast"
        self.ensemble.setVisible(forecast)
        wanted = forecast and self.ensemble.isChecked()
        self.chances.put(
            (id(plan.outcomes), wanted),
            SampleRequest(self.subject, self.session.data_source if wanted else None),
        )
        self.sensitivity.put((id(plan.outcomes), choice), self.subject)

    def show_answers(self) -> None:
        known, subject = self.chances.answer, self.subject
        if self.sensitivity.answer is not None:
            self.share.show_sensitivity(self.sensitivity.answer)
        if known is None or subject is None or known.plan.outcomes is not subject.plan.outcomes:
            return
        from planner.app.chance.words import how_sure

        said = how_sure(known, None, self.units, choice=subject.choice)
        self.rank.show_chances(known, subject.choice, self.units)
        self.five.show_chances(known, subject.choice)
        self.verdict.setText(said.headline)
        self.words.show_parts(
            (
                ("", said.comparisons or (s.say(s.SURE_ALONE),)),
                (s.say(s.SURE_SETTLE), said.settle),
                (s.say(s.SURE_CHANCES), said.chances),
                (s.say(s.SURE_METHOD), said.method),
            )
        )
        self.rank_panel.note.setText(s.say(s.SURE_SAMPLES, samples=known.sharpness, wanted=known.wanted))


class RankView(QWidget):
    """The best candidates, one a row: in how many of a hundred samples no harm comes, and the peaks they reach."""

    chosen = Signal(object)
    ROW_PX = 22.0

    def __init__(self) -> None:
        super().__init__()
        self.known: Chances | None = None
        self.choice: Choice | None = None
        self._bands: dict[Choice, Floats] = {}
        self.units = METRIC
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMinimumSize(300, 120)
        self.setAccessibleName(s.say(s.SURE_RANK))

    def show_chances(self, known: Chances, choice: Choice, units: UnitSystem) -> None:
        if known is not self.known:
            self._bands = {}
        self.known, self.choice, self.units = known, choice, units
        share = known.no_harm(choice)
        self.setAccessibleDescription(
            s.say(s.SURE_ROW, candidate=choice_text(known.plan, choice), share=share.of_hundred)
        )
        self.update()

    def rows(self) -> list[Choice]:
        """The candidates shown: the best, and the chosen one in any case."""
        if self.known is None:
            return []
        rows = list(self.known.ranking[: self._room()])
        return rows if self.choice in rows or self.choice is None else [*rows[:-1], self.choice]

    def _room(self) -> int:
        """How many rows there is room for."""
        return max(int(self._body_px() / max(self.ROW_PX, p.high() + 5)), 1)

    def _row_px(self) -> float:
        most = len(self.known.ranking) if self.known is not None else 1
        return min(self._body_px() / max(min(self._room(), most), 1), 2 * self.ROW_PX)

    def _body_px(self) -> float:
        return self.height() - self._top() - p.high() - 6

    def _top(self) -> float:
        return p.high() + 6

    # -- painting --------------------------------------------------------------------------------

    def paintEvent(self, event: QPaintEvent) -> None:
        if self.known is None:
            return
        paint = QPainter(self)
        paint.setRenderHint(QPainter.RenderHint.Antialiasing)
        look, row_px = theme.current(), self._row_px()
        names = QRectF(0, 0, self.width() * 0.55, row_px)
        number = p.wide("100", bold=True) + 6
        peaks = self.width() * 0.19
        dots = QRectF(names.right() + 14, 0, self.width() - names.right() - peaks - number - 44, row_px)
        spread = QRectF(self.width() - peaks, 0, peaks - 8, row_px)
        head = self._top()
        p.write(
            paint,
            QRectF(dots.left(), 0, dots.width() + number + 16, head - 6),
            s.say(s.SURE_NO_HARM),
            look.ink_soft,
        )
        p.write(
            paint, QRectF(spread.left(), 0, spread.width() + 8, head - 6), s.say(s.SURE_PEAK), look.ink_soft
        )
        rows = self.rows()
        bottom = head + len(rows) * row_px
        self._scale(paint, dots, spread, head, bottom)
        span_c = self._span_c()
        for index, choice in enumerate(rows):
            self._row(paint, choice, head + index * row_px, names, dots, number, spread, span_c)

    def _span_c(self) -> tuple[float, float]:
        bands = np.array([self._band(choice) for choice in self.rows()])
        ends = [limit.at_c for limit in self._limits()]
        low, high = min(ends, default=36.0) - BELOW_LIMITS_K, max(ends, default=40.0) + ABOVE_LIMITS_K
        return float(np.nanmin(bands, initial=low)), min(float(np.nanmax(bands, initial=high)), MOST_C)

    def _limits(self) -> tuple[Limit, ...]:
        return peak_limits(self.known.plan.limits) if self.known is not None else ()

    def _band(self, choice: Choice) -> Floats:
        """Quantiles of a row, found once and not at every repaint."""
        if self.known is None:
            return np.full(3, np.nan)
        if choice not in self._bands:
            self._bands[choice] = self.known.peak_band_c(choice)
        return self._bands[choice]

    def _scale(self, paint: QPainter, dots: QRectF, spread: QRectF, top: float, bottom: float) -> None:
        look = theme.current()
        for share in (0, 50, 100):
            x = dots.left() + dots.width() * share / 100
            paint.setPen(QPen(theme.colour(look.line), 1))
            paint.drawLine(QPointF(x, top), QPointF(x, bottom))
            p.write(
                paint, QRectF(x - 20, bottom, 40, p.high() + 4), str(share), look.ink_faint, align=p.MIDDLE
            )
        low, high = self._span_c()
        for limit in self._limits():
            if low <= limit.at_c <= high:
                x = spread.left() + (limit.at_c - low) / (high - low) * spread.width()
                paint.setPen(QPen(shade(LEVEL_COLOUR[limit.level]), 1))
                paint.drawLine(QPointF(x, top), QPointF(x, bottom))
                text = degrees_text(limit.at_c, self.units, unit=False)
                left = x - 42 if limit.level == CAUTION else x + 2
                side = p.RIGHT if limit.level == CAUTION else p.LEFT
                p.write(paint, QRectF(left, bottom, 40, p.high() + 4), text, look.ink_faint, align=side)

    def _row(
        self,
        paint: QPainter,
        choice: Choice,
        y: float,
        names: QRectF,
        dots: QRectF,
        number: float,
        spread: QRectF,
        span_c: tuple[float, float],
    ) -> None:
        look, known, row_px = theme.current(), self.known, self._row_px()
        if known is None:
            return
        mine = choice == self.choice
        if mine:
            paint.setPen(QPen(theme.colour(look.accent), 1) if self.hasFocus() else Qt.PenStyle.NoPen)
            paint.setBrush(theme.colour(look.accent_soft))
            paint.drawRoundedRect(QRectF(0.5, y + 0.5, self.width() - 1, row_px - 1), 4, 4)
        ink = look.ink if mine else look.ink_soft
        self._name(paint, names.adjusted(6, y, 0, y), choice, ink, mine)
        share, middle = known.no_harm(choice), y + row_px / 2
        colour = theme.colour(look.accent if mine else look.ink_soft)
        if share.samples:
            left, right = (min(max(share.value + k * share.error, 0), 1) for k in (-1, 1))
            p.whisker(
                paint, dots.left() + left * dots.width(), dots.left() + right * dots.width(), middle, colour
            )
            paint.setPen(Qt.PenStyle.NoPen)
            paint.setBrush(colour)
            paint.drawEllipse(QPointF(dots.left() + share.value * dots.width(), middle), 4, 4)
            figure = QRectF(dots.right() + 8, y, number, row_px)
            p.write(paint, figure, str(share.of_hundred), look.ink, bold=True, align=p.RIGHT)
        low, high = span_c
        band = [(min(float(t), high) - low) / max(high - low, 1e-9) for t in self._band(choice)]
        if np.isfinite(band).all():
            lie = QRectF(spread.left() + band[0] * spread.width(), middle - 3, 0, 6)
            lie.setRight(spread.left() + band[2] * spread.width())
            p.bar(paint, lie, theme.colour(look.accent if mine else look.ink_faint, 0.55))
            x = spread.left() + band[1] * spread.width()
            paint.setPen(QPen(theme.colour(look.ink), 1.6))
            paint.drawLine(QPointF(x, middle - 5), QPointF(x, middle + 5))

    def _name(self, paint: QPainter, box: QRectF, choice: Choice, ink: str, bold: bool) -> None:
        """Departure, loading place and set-up in columns of their own."""
        if self.known is None:
            return
        plan = self.known.plan
        when = clock.day_hour(float(plan.departures_s[choice.departure]), plan.trip.origin.zone)
        first = max(p.wide(s.say(s.DAY_HOUR, weekday="Wed", hour="00:00"), bold=True) + 10, 40.0)
        last = min(max(p.wide(title, bold=bold) for title in plan.setup_titles) + 6, box.width() * 0.36)
        columns = ((box.left(), first, when), (box.right() - last, last, plan.setup_titles[choice.setup]))
        for left, room, text in columns:
            p.write(paint, QRectF(left, box.top(), room, box.height()), text, ink, bold=bold)
        middle = QRectF(box.left() + first, box.top(), box.width() - first - last - 8, box.height())
        p.write(paint, middle, plan.loading_place_titles[choice.loading_place], ink, bold=bold)

    # -- hands -----------------------------------------------------------------------------------

    def event(self, event: QEvent) -> bool:
        """The whole name of a row as its tip."""
        if isinstance(event, QHelpEvent) and self.known is not None:
            rows, row = self.rows(), int((event.pos().y() - self._top()) // self._row_px())
            self.setToolTip(choice_text(self.known.plan, rows[row]) if 0 <= row < len(rows) else "")
        return super().event(event)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        rows, row = self.rows(), int((event.position().y() - self._top()) // self._row_px())
        if 0 <= row < len(rows):
            self.chosen.emit(rows[row])

    def keyPressEvent(self, event: QKeyEvent) -> None:
        step = {Qt.Key.Key_Up: -1, Qt.Key.Key_Down: 1}.get(Qt.Key(event.key()))
        rows = self.rows()
        if step is None or self.choice not in rows:
            super().keyPressEvent(event)
            return
        self.chosen.emit(rows[min(max(rows.index(self.choice) + step, 0), len(rows) - 1)])


class FiveView(QWidget):
    """The five verdicts of one candidate: in how many of a hundred samples harm, and in how many only caution."""

    def __init__(self) -> None:
        super().__init__()
        self.known: Chances | None = None
        self.choice: Choice | None = None
        self.setMinimumSize(220, 100)
        self.setAccessibleName(s.say(s.SURE_FIVE))

    def show_chances(self, known: Chances, choice: Choice) -> None:
        self.known, self.choice = known, choice
        self.setAccessibleDescription(
            ", ".join(
                s.say(s.SURE_FIVE_ROW, what=s.say(s.VERDICT_NAMES[v]), share=known.harm(choice, v).of_hundred)
                for v in VERDICTS
                if known.harm(choice, v).samples
            )
        )
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        if self.known is None or self.choice is None:
            return
        paint = QPainter(self)
        paint.setRenderHint(QPainter.RenderHint.Antialiasing)
        look = theme.current()
        text_px = max(p.wide(s.say(s.VERDICT_NAMES[v])) for v in VERDICTS) + 12
        figure_px = p.wide(s.say(s.SURE_HARM_OF, share=100), bold=True) + 8
        lane = QRectF(text_px, 0, max(self.width() - text_px - figure_px, 40), 0)
        key = p.high() + 8
        row_px = min((self.height() - key) / len(VERDICTS), 34.0)
        for row, verdict in enumerate(VERDICTS):
            y = row * row_px
            share, caution = (
                self.known.harm(self.choice, verdict),
                self.known.caution_only(self.choice, verdict),
            )
            p.write(paint, QRectF(0, y, text_px - 8, row_px), s.say(s.VERDICT_NAMES[verdict]), look.ink)
            if not share.samples:
                continue
            whole = QRectF(lane.left(), y + row_px / 2 - 6, lane.width(), 12)
            p.bar(paint, whole, theme.colour(look.ink, 0.06))
            harm_px = whole.width() * share.value
            p.bar(paint, QRectF(whole.left(), whole.top(), harm_px, 12), theme.colour(look.harm))
            caution_box = QRectF(whole.left() + harm_px, whole.top(), whole.width() * caution, 12)
            p.bar(paint, caution_box, theme.colour(look.caution, 0.75))
            text = s.say(s.SURE_HARM_OF, share=share.of_hundred)
            ink = look.ink if share.of_hundred else look.ink_faint
            p.write(
                paint, QRectF(lane.right() + 8, y, figure_px, row_px), text, ink, bold=share.of_hundred > 0
            )
        self._key(paint, len(VERDICTS) * row_px + 4, text_px)

    def _key(self, paint: QPainter, y: float, x: float) -> None:
        look = theme.current()
        for text, ink in ((s.LEGEND_HARM, look.harm), (s.SURE_CAUTION_ONLY, look.caution)):
            p.bar(paint, QRectF(x, y + p.high() / 2 - 4, 10, 8), theme.colour(ink))
            said = s.say(text)
            p.write(paint, QRectF(x + 15, y, p.wide(said) + 4, p.high()), said, look.ink_soft)
            x += 15 + p.wide(said) + 18


class SensitivityView(QWidget):
    """Shares of the uncertainty by subject, largest first, each with how surely it is known."""

    MOST = 6

    def __init__(self) -> None:
        super().__init__()
        self.found: VarianceShares | None = None
        self.setMinimumSize(220, 100)
        self.setAccessibleName(s.say(s.SURE_SENSITIVITY))

    def show_sensitivity(self, found: VarianceShares) -> None:
        from planner.app.chance.sensitivity import sensitivity_lines

        self.found = found
        self.lines = sensitivity_lines(found)
        self.setAccessibleDescription(" ".join(self.lines))
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        if self.found is None:
            return
        from planner.app.chance.sensitivity import SUBJECT_WORDS

        paint = QPainter(self)
        paint.setRenderHint(QPainter.RenderHint.Antialiasing)
        look, found = theme.current(), self.found
        if not self.lines:
            paint.setPen(theme.colour(look.ink_soft))
            paint.drawText(self.rect(), p.MIDDLE | Qt.TextFlag.TextWordWrap, s.say(s.SURE_NO_SENSITIVITY))
            return
        lead = p.high(0) * 2 + 8
        paint.setFont(theme.font(0, bold=True))
        paint.setPen(theme.colour(look.ink))
        words = self.lines[0].split(" (")[0] + "."
        paint.drawText(QRectF(0, 0, self.width(), lead), int(p.LEFT) | Qt.TextFlag.TextWordWrap, words)
        rows = list(zip(found.subjects, found.share, found.share_error, strict=True))[: self.MOST]
        row_px = min((self.height() - lead - 4) / max(len(rows), 1), 26.0)
        names = min(self.width() * 0.7, max(p.wide(SUBJECT_WORDS[name], -0.9) for name, _, _ in rows) + 10)
        figure = p.wide(s.say(s.PER_CENT, value=100)) + 8
        room = max(self.width() - names - figure - 10, 30)
        scale = room / max(float(max(share + error for _, share, error in rows)), 1e-9)
        for row, (name, share, error) in enumerate(rows):
            y = lead + row * row_px
            p.write(
                paint,
                QRectF(0, y, names - 8, row_px),
                SUBJECT_WORDS[name],
                look.ink if row == 0 else look.ink_soft,
                step=-0.9,
            )
            tint = theme.colour(look.accent, 0.9 if row == 0 else 0.45)
            p.bar(paint, QRectF(names, y + row_px / 2 - 5, max(float(share) * scale, 1), 10), tint)
            middle = y + row_px / 2
            ends = (names + max(float(share - error), 0) * scale, names + float(share + error) * scale)
            p.whisker(paint, *ends, middle, theme.colour(look.ink, 0.55), 1.0)
            text = s.say(s.PER_CENT, value=round(100 * float(share)))
            p.write(
                paint, QRectF(self.width() - figure, y, figure, row_px), text, look.ink_soft, align=p.RIGHT
            )
