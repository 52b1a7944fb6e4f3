"""The addresses of marks and rubrics."""

from __future__ import annotations

from django.urls import path

from design_challenges.views import marking, rubrics

urlpatterns = [
    path("classes/<slug:code>/marks/", marking.marking, name="marking"),
    path("classes/<slug:code>/marks/evidence/", marking.evidence, name="marking_evidence"),
    path("classes/<slug:code>/marks/remark/", marking.remark, name="marking_remark"),
    path("classes/<slug:code>/marks/rubric/", rubrics.rubric, name="rubric"),
    path("classes/<slug:code>/marks/rubric/begin/", rubrics.rubric_begin, name="rubric_begin"),
    path("classes/<slug:code>/marks/rubric/change/", rubrics.rubric_change, name="rubric_change"),
    path("classes/<slug:code>/marks/rubric/keep/", rubrics.rubric_keep, name="rubric_keep"),
    path("classes/<slug:code>/marks/agreement/", rubrics.agreement, name="marking_agreement"),
]
