"""The addresses of spreadsheet and CSV files."""

from __future__ import annotations

from django.urls import path

from design_challenges.views import files, mark_files

urlpatterns = [
    path("classes/<slug:code>/files/", files.files, name="files"),
    path("classes/<slug:code>/files/gradebook.xlsx", files.gradebook, name="gradebook"),
    path("classes/<slug:code>/files/marks/", mark_files.mark_files, name="mark_files"),
    path("classes/<slug:code>/files/marks.csv", mark_files.marks_file, name="marks_csv"),
    path(
        "classes/<slug:code>/files/oneroster-<str:version>-results.zip",
        mark_files.results_file,
        name="results_file",
    ),
    path("classes/<slug:code>/files/<slug:name>.csv", files.csv_file, name="csv_file"),
]
