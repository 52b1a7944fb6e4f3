"""The addresses of the timing station, of opening one, and of readings that found no drop."""

from __future__ import annotations

from django.urls import path

from design_challenges.views import station, stations, unplaced
from design_challenges.views.workers import station_worker

urlpatterns = [
    path("station/", station.station, name="station"),
    path("station/worker.js", station_worker, name="station_worker"),
    path("station/queue/", station.queue, name="station_queue"),
    path("station/entry/", station.entry, name="station_entry"),
    path("station/entries/", station.entries, name="station_entries"),
    path("station/in/<str:token>/", stations.come_in, name="station_in"),
    path("classes/<slug:code>/stations/", stations.stations, name="stations"),
    path("classes/<slug:code>/stations/new/", stations.make_link, name="station_new"),
    path("classes/<slug:code>/stations/here/", stations.open_here, name="station_here"),
    path("classes/<slug:code>/stations/<int:pk>/withdraw/", stations.withdraw, name="station_withdraw"),
    path("classes/<slug:code>/unplaced/", unplaced.unplaced, name="unplaced"),
    path("classes/<slug:code>/unplaced/<int:pk>/", unplaced.give, name="unplaced_give"),
    path("classes/<slug:code>/unplaced/<int:pk>/aside/", unplaced.set_aside, name="unplaced_aside"),
]
