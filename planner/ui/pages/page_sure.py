"""How sure: the answer's own figures group by group, the two pinned candidates, where the uncertainty comes from."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QEvent, QRectF, Qt
from PySide6.QtGui import QFontMetricsF, QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import QTableWidget, QTableWidgetItem, QToolButton, QWidget

from planner.app.answer.records import FATES, Candidate, Span
from planner.app.common.wording import lower_first
from planner.ui.look import paint as p
from planner.ui.look import strings as s
from planner.ui.look import theme
from planner.ui.look.panel import ShortText
from planner.ui.pages.book import Page
from planner.ui.plan.seen import candidate_words, figure_text, span_text
from planner.ui.work.background_query import SEED, BackgroundQuery, Going, Subject
from planner.ui.work.runner import Watch
from planner.units import ends

if TYPE_CHECKING:
    from planner.app.chance.sensitivity import VarianceShares
    from planner.ui.work.session import Session

NAME_STEP = -0.9
NAME_GAP_PX, MOST_NAME_SHARE = 8.0, 0.55
"""Between a name and its bar; so much of the width names may take, over as many lines as they need."""
WRAPPED = int(p.LEFT) | int(Qt.TextFlag.TextWordWrap)
LEAST_GROUPS = 4
"""So many groups are in sight at once, however low the window."""
MOST_NAMED = 6
"""So many of the best candidates are told with their shares."""


def ask_sensitivity(subject: Subject, _: Watch) -> VarianceShares:
    """Where the uncertainty about the chosen candidate comes from."""
    from planner.app.chance.sensitivity import sensitivity

    return sensitivity(subject.plan, subject.choice, subject.catalogue, np.random.default_rng(SEED))


class SurePage(Page):
    """Shows the record of the one answer; the only thing asked here is which unknown matters most."""

    def __init__(self, session: Session) -> None:
        super().__init__(session)
        self.sensitivity = BackgroundQuery(session.runner, "doubt", ask_sensitivity)
        self.table, self.share = FateTable(), SensitivityView()
        self.verdict = ShortText("", 3, bold=True)
        self.words = p.Sentences(s.say(s.SURE_METHOD))
        self.others = p.Sentences(s.say(s.SURE_DUELS))
        self.rank_panel = self.hang(
            s.SURE_FIVE, s.SURE_FIVE_GUIDE, p.under(self.verdict, self.table, grows=1)
        )
        self.others_panel = self.hang(s.SURE_DUELS, s.SURE_DUELS_GUIDE, self.others)
        self.words_panel = self.hang(s.SURE_METHOD, s.SURE_DUELS_GUIDE, self.words)
        self.share_panel = self.hang(
            s.SURE_SENSITIVITY, s.SURE_SENSITIVITY_GUIDE, self.share, self.sensitivity
        )
        self.ensemble = QToolButton()
        self.ensemble.setCheckable(True)
        self.ensemble.setText(s.say(s.SURE_ENSEMBLE))
        self.ensemble.setToolTip(s.say(s.SURE_ENSEMBLE_HINT))
        self.ensemble.hide()
        self.ensemble.toggled.connect(session.set_ensemble)
        self.rank_panel.head.addWidget(self.ensemble)
        self.share_panel.head.addWidget(Going(self.sensitivity))
        upper = p.split(Qt.Orientation.Horizontal, (self.rank_panel, 62), (self.others_panel, 38))
        lower = p.split(Qt.Orientation.Horizontal, (self.words_panel, 62), (self.share_panel, 38))
        p.fill(self, p.split(Qt.Orientation.Vertical, (upper, 54), (lower, 46)))
        self.sensitivity.answered.connect(lambda _: self.show_answers())
        session.closer_changed.connect(lambda _: self.show_answers())
        session.answer_changed.connect(lambda _: self.show_answers())

    def ask(self) -> None:
        if self.subject is not None:
            plan = self.subject.plan
            self.ensemble.setVisible(plan.weather.kind == "forecast")
            self.sensitivity.put((id(plan.outcomes), self.subject.choice), self.subject)

    def candidate(self) -> Candidate | None:
        """The candidate looked at, as closely as it is known, also where that was before this page was made."""
        held, closer = self.session.candidate, self.session.closer
        if closer is not None and held is not None and closer.candidate.key == held.key:
            return closer.candidate
        return held

    def show_answers(self) -> None:
        answer, held = self.session.answer, self.candidate()
        for panel in (self.rank_panel, self.others_panel, self.words_panel):
            panel.set_filled(answer is not None and held is not None)
        if self.sensitivity.answer is not None:
            self.share.show_sensitivity(self.sensitivity.answer)
        if answer is None or held is None:
            return
        words = candidate_words(answer)
        share = held.harm_of_100
        self.verdict.setText(
            s.say(s.UNKNOWN_VALUE)
            if share is None
            else s.say(
                s.SURE_SENTENCE,
                candidate=words(held),
                value=figure_text(share.value),
                **dict(zip(("low", "high"), ends(share.low, share.high), strict=True)),
                count=held.samples,
            )
        )
        self.table.show_candidate(held)
        best_of: dict[str, Span] = {}
        for one in answer.candidates:  # best first: what reads the same as a better one is left out
            if one.harm_of_100 is not None:
                best_of.setdefault(words(one), one.harm_of_100)
        named = [
            s.say(s.SURE_OTHER, candidate=name, value=figure_text(harm.value), span=span_text(harm))
            for name, harm in list(best_of.items())[:MOST_NAMED]
        ]
        self.others.show_parts(
            (
                ("", (self.session.verdict.sentence,) if self.session.verdict else ()),
                (s.say(s.SURE_BEST), named),
            )
        )
        self.words.show_parts((("", answer.how_sure), (s.say(s.SURE_SETTLE), answer.settle)))


class FateTable(QTableWidget):
    """The groups of a candidate, and in how many of 100 variants each of five things decides over them."""

    def __init__(self) -> None:
        heads = (s.SURE_GROUP, s.LOAD_COUNT_SHORT, s.SURE_ANY, *(s.VERDICT_NAMES[name] for name in FATES[1:]))
        super().__init__(0, len(heads))
        for column, text in enumerate(heads):
            head = QTableWidgetItem(lower_first(s.say(text)))
            head.setTextAlignment(_aside(column))
            self.setHorizontalHeaderItem(column, head)
        self.horizontalHeader().setStretchLastSection(True)
        self.setAccessibleName(s.say(s.SURE_FIVE))
        self.setEditTriggers(QTableWidget.EditTrigger.NoEditTriggers)
        self.setShowGrid(False)
        self.setAlternatingRowColors(True)
        self.verticalHeader().hide()

    def show_candidate(self, candidate: Candidate) -> None:
        """One row a group, in the order of the load."""
        self.setRowCount(len(candidate.groups))
        for row, fate in enumerate(candidate.groups):
            texts = [fate.label, str(fate.count), *(fate_text(fate.harm_of_100.get(name)) for name in FATES)]
            for column, text in enumerate(texts):
                item = QTableWidgetItem(text)
                item.setTextAlignment(_aside(column))
                self.setItem(row, column, item)
        self.resizeColumnsToContents()
        shown = sum(self.rowHeight(row) for row in range(min(self.rowCount(), LEAST_GROUPS)))
        bar = self.horizontalScrollBar().sizeHint().height()
        self.setMinimumHeight(self.horizontalHeader().sizeHint().height() + shown + bar + 2)


def _aside(column: int) -> Qt.AlignmentFlag:
    """Names stand left, figures right, and so does what stands over them."""
    side = Qt.AlignmentFlag.AlignRight if column else Qt.AlignmentFlag.AlignLeft
    return side | Qt.AlignmentFlag.AlignVCenter


def fate_text(span: Span | None) -> str:
    """A share with its range; a dash where the box holds no such thing."""
    if span is None:
        return s.say(s.SURE_NONE)
    low, high = ends(span.low, span.high)
    return s.say(s.SURE_FATE, value=figure_text(span.value), low=low, high=high)


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
        self._ask_room()
        self.update()

    def rows(self) -> list[tuple[str, float, float]]:
        """What is drawn: each subject in words, its share and how surely that is known."""
        if self.found is None:
            return []
        from planner.app.chance.sensitivity import SUBJECT_WORDS

        named = (SUBJECT_WORDS[subject] for subject in self.found.subjects)
        return list(zip(named, self.found.share, self.found.share_error, strict=True))[: self.MOST]

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._ask_room()

    def changeEvent(self, event: QEvent) -> None:
        super().changeEvent(event)
        if event.type() == QEvent.Type.FontChange:
            self._ask_room()

    def _ask_room(self) -> None:
        """As tall as all the names need: the page scrolls where there is less, and no name is shortened."""
        rows = len(self.rows()) if getattr(self, "lines", ()) else 0
        self.setMinimumHeight(max(math.ceil(self._lead_px() + rows * self._least_row_px() + 4), 100))

    def _lead_px(self) -> float:
        return p.high(0) * 2 + 8

    def _names_px(self) -> float:
        widest = max((p.wide(name, NAME_STEP) for name, _, _ in self.rows()), default=0.0)
        return min(self.width() * MOST_NAME_SHARE, widest + NAME_GAP_PX + 2)

    def _least_row_px(self) -> float:
        room = QRectF(0, 0, self._names_px() - NAME_GAP_PX, 1000)
        metrics = QFontMetricsF(theme.font(NAME_STEP))
        high = (metrics.boundingRect(room, WRAPPED, name).height() for name, _, _ in self.rows())
        return max(high, default=0.0) + 2

    def _row_px(self) -> float:
        shared = (self.height() - self._lead_px() - 4) / max(len(self.rows()), 1)
        return max(self._least_row_px(), min(shared, 2 * p.high(NAME_STEP) + 4))

    def paintEvent(self, event: QPaintEvent) -> None:
        if self.found is None:
            return
        paint = QPainter(self)
        paint.setRenderHint(QPainter.RenderHint.Antialiasing)
        look = theme.current()
        if not self.lines:
            paint.setPen(theme.colour(look.ink_soft))
            paint.drawText(self.rect(), p.MIDDLE | Qt.TextFlag.TextWordWrap, s.say(s.SURE_NO_SENSITIVITY))
            return
        lead = self._lead_px()
        paint.setFont(theme.font(0, bold=True))
        paint.setPen(theme.colour(look.ink))
        words = self.lines[0].split(" (")[0] + "."
        paint.drawText(QRectF(0, 0, self.width(), lead), int(p.LEFT) | Qt.TextFlag.TextWordWrap, words)
        rows = self.rows()
        names, row_px = self._names_px(), self._row_px()
        figure = p.wide(s.say(s.PER_CENT, value=100)) + 8
        scale = max(self.width() - names - figure - 10, 30) / max(
            float(max(share + error for _, share, error in rows)), 1e-9
        )
        for row, (name, share, error) in enumerate(rows):
            y = lead + row * row_px
            paint.setFont(theme.font(NAME_STEP))
            paint.setPen(theme.colour(look.ink if row == 0 else look.ink_soft))
            paint.drawText(QRectF(0, y, names - NAME_GAP_PX, row_px), WRAPPED, name)
            tint = theme.colour(look.accent, 0.9 if row == 0 else 0.45)
            p.bar(paint, QRectF(names, y + row_px / 2 - 5, max(float(share) * scale, 1), 10), tint)
            middle = y + row_px / 2
            ends = (names + max(float(share - error), 0) * scale, names + float(share + error) * scale)
            p.whisker(paint, *ends, middle, theme.colour(look.ink, 0.55), 1.0)
            text = s.say(s.PER_CENT, value=round(100 * float(share)))
            p.write(
                paint, QRectF(self.width() - figure, y, figure, row_px), text, look.ink_soft, align=p.RIGHT
            )
