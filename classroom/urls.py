"""The addresses of the whole site: the health check, the school's side, the challenges' side."""

from __future__ import annotations

from django.urls import include, path

from classroom.views.health import healthz

urlpatterns = [
    path("healthz", healthz, name="healthz"),
    path("", include("classroom.routes")),
    path("", include("design_challenges.urls")),
]

handler400 = "classroom.views.errors.bad_request"
handler403 = "classroom.views.errors.forbidden"
handler404 = "classroom.views.errors.not_found"
handler500 = "classroom.views.errors.server_error"
