"""The project's settings with a data folder of the tests' own and static files by their plain names."""

from __future__ import annotations

import os
import tempfile

os.environ["SECOND_BUILD_DATA"] = tempfile.mkdtemp(prefix="second-build-tests-")

from classroom.settings import *  # noqa: F403
from classroom.settings import STATIC_ROOT
from classroom.settings import STORAGES as REAL_STORAGES

STATIC_ROOT.mkdir(exist_ok=True)  # WhiteNoise warns where it is missing
STORAGES = {
    **REAL_STORAGES,
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
# Hundreds of test users: the real hasher is slow on purpose.
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
# A query that comes every few minutes would make counted queries differ by chance.
SCHOOL_TIME_REREAD_S = 10**9
