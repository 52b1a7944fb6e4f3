"""Adults' sessions and accounts, read by prepared queries: every poll of a live page asks for both."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.backends import ModelBackend
from django.contrib.auth.models import User
from django.contrib.sessions.backends.db import SessionStore as DatabaseStore
from django.contrib.sessions.models import Session
from django.utils import timezone

from classroom.prepared import Prepared, columns_of, instance_of

_session = Prepared(
    lambda key: Session.objects.filter(session_key=key).values_list("session_data", "expire_date"), str
)
_user = Prepared(lambda pk: User.objects.filter(pk=pk).values_list(*columns_of(User)), int)


class SessionStore(DatabaseStore):
    """Django's own sessions in the database, read by a query whose SQL is kept."""

    def load(self) -> dict[str, Any]:
        """Return what the session holds; nothing where there is none or it has run out."""
        found = _session.row(self.session_key or "")
        if found is None or found.expire_date <= timezone.now():
            self._session_key = None
            return {}
        held: dict[str, Any] = self.decode(found.session_data)
        return held


class Accounts(ModelBackend):
    """Django's own accounts and passwords; the account of a session is read by a query whose SQL is kept."""

    def get_user(self, user_id: int) -> User | None:
        """Return the account, where there is one that may still sign in."""
        row = _user.row(user_id)
        user: User | None = instance_of(User, row) if row is not None else None
        return user if user is not None and self.user_can_authenticate(user) else None
