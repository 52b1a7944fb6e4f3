"""The addresses of the year's round: copying settings, sharing, handing over, erasing."""

from __future__ import annotations

from django.urls import path

from design_challenges.views import year

urlpatterns = [
    path("older/", year.erase_older, name="erase_older"),
    path("classes/<str:code>/erase/", year.class_erase, name="class_erase"),
    path("classes/<str:code>/erase/copy.zip", year.class_copy, name="class_copy"),
    path("classes/<str:code>/students/<int:pk>/erase/", year.child_erase, name="child_erase"),
    path("classes/<str:code>/students/<int:pk>/erase/copy.zip", year.child_copy, name="child_copy"),
    path("classes/<str:code>/people/", year.people, name="class_people"),
    path("classes/<str:code>/people/<int:pk>/out/", year.people_out, name="people_out"),
    path("classes/<str:code>/settings/copy/", year.copy_settings, name="copy_settings"),
]
