"""German dates and numbers (DIN 5008: 05.03.2026; 5. März 2026; 1.234,5)."""

from __future__ import annotations

DATE_FORMAT = "j. F Y"
SHORT_DATE_FORMAT = "d.m.Y"
MONTH_DAY_FORMAT = "j. F"
YEAR_MONTH_FORMAT = "F Y"
TIME_FORMAT = "H:i"
DATETIME_FORMAT = "j. F Y, H:i"
SHORT_DATETIME_FORMAT = "d.m.Y, H:i"
FIRST_DAY_OF_WEEK = 1
DECIMAL_SEPARATOR = ","
THOUSAND_SEPARATOR = "."
NUMBER_GROUPING = 3
# The browser's own date field speaks ISO 8601, whatever the page's language: so it is first.
DATE_INPUT_FORMATS = ["%Y-%m-%d", "%d.%m.%Y", "%d.%m.%y", "%d. %B %Y", "%d. %b %Y"]
