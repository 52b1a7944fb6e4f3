"""Lets the first account see the technician's pages where nobody may yet: it set the computer up."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.db import migrations


def let_the_first_in(apps: Any, schema_editor: Any) -> None:
    users = apps.get_model(*settings.AUTH_USER_MODEL.split("."))
    if not users.objects.filter(is_staff=True).exists():
        first = users.objects.order_by("pk").first()
        if first is not None:
            users.objects.filter(pk=first.pk).update(is_staff=True)


class Migration(migrations.Migration):
    dependencies = [
        ("classroom", "0003_stations"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [migrations.RunPython(let_the_first_in, migrations.RunPython.noop)]
