"""English dates that nobody can read the other way round: the month is always a word."""

from __future__ import annotations

DATE_FORMAT = "j F Y"
SHORT_DATE_FORMAT = "j M Y"
MONTH_DAY_FORMAT = "j F"
YEAR_MONTH_FORMAT = "F Y"
TIME_FORMAT = "H:i"
DATETIME_FORMAT = "j F Y, H:i"
SHORT_DATETIME_FORMAT = "j M Y, H:i"
FIRST_DAY_OF_WEEK = 1
# The browser's own date field speaks ISO 8601; a typed date may name the month.
DATE_INPUT_FORMATS = ["%Y-%m-%d", "%d %b %Y", "%d %B %Y"]
