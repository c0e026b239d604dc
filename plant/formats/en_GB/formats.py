"""Dates as 25 Nov 2026, times by the 24-hour clock."""

DATE_FORMAT = "j M Y"
TIME_FORMAT = "H:i"
DATETIME_FORMAT = "j M Y, H:i"
SHORT_DATE_FORMAT = "j M Y"
SHORT_DATETIME_FORMAT = "j M Y, H:i"
DATE_INPUT_FORMATS = ["%Y-%m-%d", "%d %b %Y", "%d %B %Y", "%d/%m/%Y"]
DECIMAL_SEPARATOR = "."
THOUSAND_SEPARATOR = ","
