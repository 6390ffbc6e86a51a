"""Day before month, and a clock of 24 hours."""

DATE_FORMAT = "j M Y"
SHORT_DATE_FORMAT = "j M Y"
TIME_FORMAT = "H:i"
DATETIME_FORMAT = "j M Y, H:i"
MONTH_DAY_FORMAT = "j F"
YEAR_MONTH_FORMAT = "F Y"
FIRST_DAY_OF_WEEK = 1
