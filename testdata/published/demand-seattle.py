"""Write demand-seattle-totals.csv: a year's water at Seattle, worked out apart from benchtide.

Command line, in this directory, with Python 3 alone:

    python3 demand-seattle.py > demand-seattle-totals.csv

Reference evapotranspiration after FAO-56 with temperatures alone: humidity
from the night's low, light from the day's range on a coast, wind 2 m/s. The
light above the atmosphere is summed minute by minute from the sun's height,
not by the closed form; the equation is solved from its resistances (208/wind
and 70 s/m) where FAO-56 prints rounded constants, so that the two agree to
about 0.3 %.
"""

import csv
import datetime
import math

LATITUDE, ALTITUDE, WIND = math.radians(47.6), 50.0, 2.0


def saturation(celsius):
    return 0.6108 * math.exp(17.27 * celsius / (celsius + 237.3))


def light_above(day):
    """MJ/m2 in a day, by summing the sun's height over its minutes."""
    angle = 2 * math.pi * day / 365
    tilt = 0.409 * math.sin(angle - 1.39)
    flux = 0.0820 * (1 + 0.033 * math.cos(angle))
    height = lambda hour: (math.sin(LATITUDE) * math.sin(tilt)
                           + math.cos(LATITUDE) * math.cos(tilt) * math.cos(hour))
    return flux * sum(max(0, height((m + 0.5) * math.pi / 720 - math.pi)) for m in range(1440))


def penman(day, low, high):
    above = light_above(day)
    mean = (low + high) / 2
    pressure = 101.3 * ((293 - 0.0065 * ALTITUDE) / 293) ** 5.26
    gamma = 0.000665 * pressure
    slope = (saturation(mean + 0.001) - saturation(mean - 0.001)) / 0.002
    want = (saturation(low) + saturation(high)) / 2 - saturation(low)
    light = min(0.19 * math.sqrt(high - low), 0.75) * above
    cloud = min(1, max(0.3, light / ((0.75 + 2e-5 * ALTITUDE) * above)))
    black = 4.903e-9 * ((low + 273.16) ** 4 + (high + 273.16) ** 4) / 2
    net = 0.77 * light - black * (0.34 - 0.14 * math.sqrt(saturation(low))) * (1.35 * cloud - 0.35)
    air, leaf = 208 / WIND, 70.0
    # density times heat of air over the latent heat, with gamma: 86400 s, virtual
    # temperature 1.01(T + 273), 0.622 and 0.287 kJ/kg K (FAO-56 box 6)
    drying = gamma * 86400 * 0.622 / (1.01 * (mean + 273) * 0.287) / air * want
    return max(0, (0.408 * slope * net + drying) / (slope + gamma * (1 + leaf / air)))


totals = {}
with open("demand-seattle.csv") as table:
    for row in csv.DictReader(line for line in table if not line.startswith("#")):
        date = datetime.date.fromisoformat(row["date"])
        given = date.timetuple().tm_yday, float(row["low_c"]), float(row["high_c"])
        days, mm = totals.get(date.year, (0, 0))
        totals[date.year] = days + 1, mm + penman(*given)
print("year,days,penman_mm")
for year, (days, mm) in totals.items():
    print(f"{year},{days},{mm:.2f}")
