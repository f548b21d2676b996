"""The date that a log's file name carries, long form and short form of the IGC specification (2.5)."""

from __future__ import annotations

import datetime
import re

_LONG = re.compile(r"(\d{4})-(\d\d)-(\d\d)-[0-9A-Z]{1,5}-[0-9A-Z]{1,8}-(\d{1,2})", re.IGNORECASE)
_SHORT = re.compile(r"(\d)([1-9A-C])([1-9A-V])([0-9A-Z])([0-9A-Z]{3})([1-9A-Z])\.IGC", re.IGNORECASE)


def date_in_name(file: str) -> tuple[str, datetime.date | None]:
    """What the name says of the date: words for the pilot ("" for nothing), and the date where it is complete.

    The short form holds one digit of the year, so it stands for a date in every decade.

    >>> date_in_name("2003-06-17-XXX-ABC-02.IGC")
    ('2003-06-17', datetime.date(2003, 6, 17))
    >>> date_in_name("36HXABC2.IGC")
    ('17 June of a year that ends in 3', None)
    """
    match = _LONG.match(file) or re.match(r"(\d{4})-(\d\d)-(\d\d)(?!\d)", file)
    if match is not None:
        try:
            date = datetime.date(*(int(match.group(k)) for k in (1, 2, 3)))
        except ValueError:
            return "", None
        return date.isoformat(), date
    short = _SHORT.fullmatch(file)
    if short is None:
        return "", None
    year, month, day = (int(short.group(k), 36) for k in (1, 2, 3))
    try:
        day_of_leap_year = datetime.date(2000, month, day)
    except ValueError:
        return "", None
    return f"{day} {day_of_leap_year:%B} of a year that ends in {year}", None
