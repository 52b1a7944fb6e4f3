"""The addresses of the class board."""

from __future__ import annotations

from django.urls import path

from design_challenges.views import board, changes

urlpatterns = [
    path("classes/<str:code>/board/", board.board, name="board"),
    path("classes/<str:code>/board/changes/", changes.changes, name="board_changes"),
    path("classes/<str:code>/board/cover/", board.cover, name="board_cover"),
    path("classes/<str:code>/board/order/", board.order, name="board_order"),
    path("classes/<str:code>/board/timer/", board.timer, name="board_timer"),
]
