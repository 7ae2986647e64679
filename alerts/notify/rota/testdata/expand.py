"""Expands calendars independently: icalendar reads, dateutil follows the rule.

One calendar a line as JSON on standard input, with from and to in seconds
since 1970; one list of [start, end] a line on standard output.
"""
import datetime
import json
import sys
from zoneinfo import ZoneInfo

import icalendar
from dateutil.rrule import rrulestr


def spans(body, zone):
    event = icalendar.Calendar.from_ical(body).walk("VEVENT")[0]
    start = event["DTSTART"].dt
    home = ZoneInfo(zone)
    if not isinstance(start, datetime.datetime):
        first = datetime.datetime(start.year, start.month, start.day)
    else:
        first = start.replace(tzinfo=None)
        home = ZoneInfo(str(start.tzinfo)) if start.tzinfo else home
    # by the clock, as package rota chooses where clocks change in between
    length = event["DTEND"].dt.replace(tzinfo=None) - first
    out = set()
    gone = []
    if "EXDATE" in event:
        many = event["EXDATE"] if isinstance(event["EXDATE"], list) else [event["EXDATE"]]
        gone = [d.dt.replace(tzinfo=None) for one in many for d in one.dts]
    rule = rrulestr(event["RRULE"].to_ical().decode(), dtstart=first, ignoretz=True)
    for shown in rule:
        if shown.year > 2027:
            break
        if shown in gone:
            continue
        begin = shown.replace(tzinfo=home, fold=0).timestamp()
        end = (shown + length).replace(tzinfo=home, fold=0).timestamp()
        out.add((begin, end))
    return out


for line in sys.stdin:
    task = json.loads(line)
    found = sorted(s for s in spans(task["body"], task["zone"]) if s[0] < task["to"] and s[1] > task["from"])
    print(json.dumps(found), flush=True)
