"""Write sun-ephem.txt: sunrise and sunset over the year and the globe, by PyEphem.

Command line, in this directory, with Debian's python3-ephem 4.1.4:

    python3 sun-ephem.py > sun-ephem.txt

PyEphem computes the full planetary theory and the sun's true radius; the
horizon is level and refraction is the standard 34'.
"""

import datetime

import ephem

PLACES = [(0, 0), (0, -78.5), (20, 75), (-20, -45), (40, -105), (-34, 151),
          (46, 8), (52, -8), (-52, -70), (60, 25), (-60, -30), (60, -150), (30, 179)]
FIRST, LAST, STEP = datetime.date(2023, 1, 3), datetime.date(2027, 12, 31), 29


def clock(instant, offset):
    return (instant.datetime() + datetime.timedelta(hours=offset, milliseconds=500)).strftime("%H:%M:%S")


print("# Sunrise and sunset by PyEphem 4.1.4 (Debian python3-ephem), made by:")
print("# python3 sun-ephem.py > sun-ephem.txt")
print("# latitude (north positive), longitude (east positive), hours the clock is ahead of UTC, date, sunrise, sunset")
for latitude, longitude in PLACES:
    offset = round(longitude / 15)
    place = ephem.Observer()
    place.lat, place.lon = str(latitude), str(longitude)
    place.pressure, place.horizon = 0, "-0:34"
    day = FIRST
    while day <= LAST:
        noon = datetime.datetime.combine(day, datetime.time(12)) - datetime.timedelta(hours=longitude / 15)
        place.date = noon
        rise = place.previous_rising(ephem.Sun())
        place.date = noon
        set_ = place.next_setting(ephem.Sun())
        print(latitude, longitude, offset, day, clock(rise, offset), clock(set_, offset))
        day += datetime.timedelta(days=STEP)
