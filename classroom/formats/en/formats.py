"""How dates and times are written in English here: the 24-hour clock of school bells, day before month."""

from __future__ import annotations

DATE_FORMAT = "j F Y"
TIME_FORMAT = "H:i"
DATETIME_FORMAT = "j F Y, H:i"
SHORT_DATE_FORMAT = "j M"
SHORT_DATETIME_FORMAT = "j M, H:i"
