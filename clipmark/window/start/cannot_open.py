"""What a keeper sees where clipmark cannot begin: a full disk, a folder that cannot be written, a bad book."""

from __future__ import annotations

from PySide6.QtCore import QCoreApplication
from PySide6.QtWidgets import QMessageBox


def cannot_open_box(why: str) -> QMessageBox:
    """The window that says why, with a button to try again once it is mended, and one to give up."""
    box = QMessageBox()
    box.setIcon(QMessageBox.Icon.Warning)
    box.setWindowTitle("clipmark")
    box.setText(_tr("clipmark cannot open its record book yet."))
    box.setInformativeText(why)
    box.setStandardButtons(QMessageBox.StandardButton.Retry | QMessageBox.StandardButton.Close)
    box.setDefaultButton(QMessageBox.StandardButton.Retry)
    box.setEscapeButton(QMessageBox.StandardButton.Close)
    return box


def ask_again(why: str) -> bool:
    """Say why clipmark cannot begin; True: the keeper wants it tried again."""
    return cannot_open_box(why).exec() == int(QMessageBox.StandardButton.Retry.value)


def _tr(text: str) -> str:
    return QCoreApplication.translate("CannotOpen", text)
