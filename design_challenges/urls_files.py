"""The addresses of spreadsheet and CSV files."""

from __future__ import annotations

from django.urls import path

from design_challenges.views import files

urlpatterns = [
    path("classes/<slug:code>/files/", files.files, name="files"),
    path("classes/<slug:code>/files/gradebook.xlsx", files.gradebook, name="gradebook"),
    path("classes/<slug:code>/files/<slug:name>.csv", files.csv_file, name="csv_file"),
]
