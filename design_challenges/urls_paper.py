"""The addresses of everything that is printed, and of the page that types paper in."""

from __future__ import annotations

from django.urls import path

from design_challenges.views import materials, notebook, paper

urlpatterns = [
    path("classes/<slug:code>/paper/", paper.index, name="paper"),
    path("classes/<slug:code>/paper/team-cards/", paper.team_cards, name="paper_team_cards"),
    path("classes/<slug:code>/paper/tags/", paper.tags, name="paper_tags"),
    path("classes/<slug:code>/paper/tally/<int:number>/", paper.tally, name="paper_tally"),
    path("classes/<slug:code>/paper/steps/<int:number>/", paper.steps, name="paper_steps"),
    path("classes/<slug:code>/paper/records/", notebook.teams, name="records"),
    path("classes/<slug:code>/paper/records/<int:team_id>/", notebook.team, name="team_record"),
    path("classes/<slug:code>/paper/children/", notebook.children, name="child_records"),
    path("classes/<slug:code>/paper/children/<int:student_id>/", notebook.child, name="child_record"),
    path("classes/<slug:code>/paper/letters/", notebook.letters, name="letters"),
    path("classes/<slug:code>/paper/letters/<int:student_id>/", notebook.letter, name="letter"),
    path("classes/<slug:code>/paper/report/", notebook.report, name="class_report"),
    path("classes/<slug:code>/paper/area-table/", materials.area_table, name="paper_area_table"),
    path("classes/<slug:code>/paper/materials/", materials.materials, name="materials"),
    path("classes/<slug:code>/paper/materials/sheet/", materials.materials_sheet, name="materials_sheet"),
    path("classes/<slug:code>/paper/type-in/<int:number>/", paper.type_in_list, name="paper_type_in_list"),
    path(
        "classes/<slug:code>/paper/type-in/<int:number>/<int:team_id>/", paper.type_in, name="paper_type_in"
    ),
]
