"""The addresses of the school's side: signing in, classes, students, teams."""

from __future__ import annotations

from django.urls import URLPattern, URLResolver, path

from classroom.views import accounts, check, classes, join, privacy, rosters, students, teams, technician

app_name = "classroom"

urlpatterns: list[URLPattern | URLResolver] = [
    # --- the front door
    path("", join.home, name="home"),
    path("join/", join.join, name="join"),
    path("join/<str:class_code>/<str:team_code>/", join.join_link, name="join_link"),
    path("leave/", join.leave, name="leave"),
    path("privacy/", privacy.privacy, name="privacy"),
    path("check/", check.check, name="check"),
    # --- adults' accounts
    path("sign-in/", accounts.sign_in, name="sign_in"),
    path("sign-out/", accounts.sign_out, name="sign_out"),
    path("password/", accounts.password_change, name="password_change"),
    path("first-teacher/<str:token>/", accounts.first_teacher, name="first_teacher"),
    path("teachers/new/", accounts.teacher_new, name="teacher_new"),
    path("welcome/<str:who>/<str:token>/", accounts.teacher_welcome, name="teacher_welcome"),
    # --- the technician's pages
    path("technician/roster/", technician.school_roster, name="school_roster"),
    path("technician/roster/classes/", technician.school_places, name="school_places"),
    # --- classes
    path("classes/", classes.classes, name="classes"),
    path("classes/new/", classes.class_new, name="class_new"),
    path("classes/<str:code>/", classes.class_home, name="class_home"),
    path("classes/<str:code>/rename/", classes.class_rename, name="class_rename"),
    path("classes/<str:code>/archive/", classes.class_archive, name="class_archive"),
    path("classes/<str:code>/joining/", classes.joining, name="joining"),
    # --- students
    path("classes/<str:code>/students/", students.students, name="students"),
    path("classes/<str:code>/students/paste/", students.students_paste, name="students_paste"),
    path("classes/<str:code>/students/add/", students.students_add, name="students_add"),
    path("classes/<str:code>/students/new/", students.student_new, name="student_new"),
    path("classes/<str:code>/students/<int:pk>/", students.student_edit, name="student_edit"),
    path("classes/<str:code>/students/<int:pk>/left/", students.student_left, name="student_left"),
    # --- a roster file
    path("classes/<str:code>/students/roster/", rosters.roster_file, name="roster_file"),
    path("classes/<str:code>/students/roster/columns/", rosters.roster_columns, name="roster_columns"),
    path("classes/<str:code>/students/roster/class/", rosters.roster_class, name="roster_class"),
    path("classes/<str:code>/students/roster/add/", rosters.roster_add, name="roster_add"),
    # --- teams
    path("classes/<str:code>/teams/", teams.teams, name="teams"),
    path("classes/<str:code>/teams/shuffle/", teams.teams_shuffle, name="teams_shuffle"),
    path("classes/<str:code>/teams/add/", teams.teams_add, name="teams_add"),
    path("classes/<str:code>/teams/codes/", teams.teams_new_codes, name="teams_new_codes"),
    path("classes/<str:code>/teams/seat/", teams.teams_seat, name="teams_seat"),
    path("classes/<str:code>/teams/<int:pk>/rename/", teams.team_rename, name="team_rename"),
    path("classes/<str:code>/teams/<int:pk>/order/", teams.team_order, name="team_order"),
    path("classes/<str:code>/teams/<int:pk>/code/", teams.team_code, name="team_code"),
    path("classes/<str:code>/teams/<int:pk>/merge/", teams.team_merge, name="team_merge"),
    path("classes/<str:code>/teams/<int:pk>/close/", teams.team_close, name="team_close"),
]
