"""The sessions of the book as rows: a still, title and day, pair, state."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QAbstractListModel, QModelIndex, QPersistentModelIndex, QPoint, QRect, QSize, Qt
from PySide6.QtGui import QFont, QFontMetrics, QImage, QPainter, QPalette
from PySide6.QtWidgets import QStyle, QStyledItemDelegate, QStyleOptionViewItem

from clipmark.book.model import SessionRow
from clipmark.review.session_list import pair_words, state_words
from clipmark.window import theme
from clipmark.window.theme import SPACE

ROW = int(Qt.ItemDataRole.UserRole)
STILL = ROW + 1
Index = QModelIndex | QPersistentModelIndex


class SessionRows(QAbstractListModel):
    """Rows of the book's list. `wanted(session_id)` is called for a row that is seen without its still."""

    def __init__(self, wanted: Callable[[int], None]):
        super().__init__()
        self.rows: tuple[SessionRow, ...] = ()
        self._stills: dict[int, QImage] = {}
        self._wanted = wanted

    def show_rows(self, rows: tuple[SessionRow, ...]) -> None:
        if rows == self.rows:
            return
        self.beginResetModel()
        self.rows = rows
        self.endResetModel()

    def put_still(self, session_id: int, image: QImage) -> None:
        self._stills[session_id] = image
        for number, row in enumerate(self.rows):
            if row.id == session_id:
                self.dataChanged.emit(self.index(number), self.index(number))

    def forget_stills(self) -> None:
        self._stills = {}

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008  Qt's own signature
        return 0 if parent.isValid() else len(self.rows)

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        row = self.rows[index.row()]
        if role == ROW:
            return row
        if role == STILL:
            if row.id not in self._stills and row.clips:
                self._wanted(row.id)
            return self._stills.get(row.id)
        if role in (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.AccessibleTextRole):
            return f"{row.title}, {row.date or self.tr('no date')}, {pair_words(row)}, {state_words(row)}"
        if role == Qt.ItemDataRole.ToolTipRole:
            return f"{row.title}\n{pair_words(row)}\n{state_words(row)}"
        return None

    def place_of(self, session_id: int) -> QModelIndex:
        """The row of a session; an invalid index where it is not listed."""
        return next((self.index(n) for n, row in enumerate(self.rows) if row.id == session_id), QModelIndex())


class SessionPainter(QStyledItemDelegate):
    """Draws one row: the still at the left, three lines beside it, the day at the right."""

    def sizeHint(self, option: QStyleOptionViewItem, index: Index) -> QSize:
        line = QFontMetrics(option.font).height()
        return QSize(30 * line, max(4 * line, 72) + 2 * SPACE)

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        row: SessionRow = index.data(ROW)
        widget = option.widget
        widget.style().drawPrimitive(QStyle.PrimitiveElement.PE_PanelItemViewItem, option, painter, widget)
        chosen = bool(option.state & QStyle.StateFlag.State_Selected)
        inside = option.rect.adjusted(SPACE, SPACE, -SPACE, -SPACE)
        picture = QRect(inside.left(), inside.top(), inside.height() * 4 // 3, inside.height())
        painter.save()
        self._still(painter, picture, index.data(STILL))
        role = QPalette.ColorRole.HighlightedText if chosen else QPalette.ColorRole.Text
        strong = option.palette.color(role)
        bold = QFont(option.font)
        bold.setWeight(QFont.Weight.DemiBold)
        faint = strong if chosen else theme.current().faint
        beside = inside.adjusted(picture.width() + 2 * SPACE, 0, 0, 0)
        line = beside.height() // 3
        day = row.date or self.tr("no date")
        day_wide = QFontMetrics(bold).horizontalAdvance(day) + SPACE
        lines = (
            (bold, strong, row.title, day_wide), (option.font, strong, pair_words(row), 0),
            (option.font, faint, state_words(row), 0),
        )  # fmt: skip
        for number, (font, colour, text, less) in enumerate(lines):
            place = QRect(beside.left(), beside.top() + number * line, beside.width() - less, line)
            painter.setFont(font)
            painter.setPen(colour)
            whole = QFontMetrics(font).elidedText(text, Qt.TextElideMode.ElideRight, place.width())
            painter.drawText(place, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft, whole)
        painter.setFont(bold)
        painter.setPen(strong)
        painter.drawText(
            QRect(beside.left(), beside.top(), beside.width(), line),
            Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignRight,
            day,
        )
        painter.restore()

    def _still(self, painter: QPainter, place: QRect, image: QImage | None) -> None:
        painter.fillRect(place, theme.current().ground)
        if image is None or image.isNull():
            painter.setPen(theme.current().line)
            painter.drawRect(place.adjusted(0, 0, -1, -1))
            return
        cut = place.size().scaled(image.size(), Qt.AspectRatioMode.KeepAspectRatio)  # the middle of the picture
        corner = QPoint((image.width() - cut.width()) // 2, (image.height() - cut.height()) // 2)
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        painter.drawImage(place, image, QRect(corner, cut))
