"""Write sheet-benches.csv: what some invented benches come to.

Command line, in this directory, with Python 3.11 and nothing else:

    python3 sheet-benches.py > sheet-benches.csv

It cuts the water into 400 layers (4000 without pots) and solves each flow by halving, where the
program has 48 layers and another rule, and shares no code with it. The laws are
those of the sources: Darcy-Weisbach and Colebrook; minor losses of Munson et al.,
table 8.2 (entrance 0.5, elbow 1.5, exit 1); Francis' weir, 1.84 in SI, USBR Water
Measurement Manual ch. 7, from memory; an orifice of 0.6, US EPA SWMM; viscosity
1.0034 mm2/s and density 998.2 kg/m3 at 20 degrees C, IAPWS. Common practice, no
source: a pot's base is 0.7 of its rim, half of what it holds is drunk, the mouth of
a drain lies 5 mm below the floor, a film of 1 mm is bare, an idle pump resists 1.5
times, a small pump gives 25 % of its power to the water, a reservoir of unknown
shape is 0.4 m deep.
"""

from math import log10, pi, sqrt

G, NU, WALL = 9.80665, 1.0034e-6, 1.5e-6
LAYERS = 4000


def root(f, high):
    """Where f, falling, passes 0 between 0 and high."""
    low = 0.0
    for _ in range(60):
        middle = (low + high) / 2
        if f(middle) > 0:
            low = middle
        else:
            high = middle
    return low


def turbulent(re, rough):
    f = 0.02
    for _ in range(60):
        f = (-2 * log10(rough / 3.7 + 2.51 / (re * sqrt(f)))) ** -2
    return f


def friction(re, rough):
    if re <= 2000:
        return 64 / re
    if re >= 4000:
        return turbulent(re, rough)
    return 64 / 2000 + (turbulent(4000, rough) - 64 / 2000) * (re - 2000) / 2000


def loss(q, bore, length, minor):
    if q <= 0:
        return 0.0
    v = q / (pi / 4 * bore**2)
    return (friction(v * bore / NU, WALL / bore) * length / bore + minor) * v * v / (2 * G)


class Bench:
    def __init__(self, **given):
        self.__dict__.update(given)
        self.full_at = self.full or self.crest

    def solid(self, depth):
        """Litres of pots below depth, by thin slices of cones cut short."""
        if not self.pots:
            return 0.0
        base = 0.7 * self.top
        # The height of a pot follows from its volume; its base and rim are known.
        height = self.volume / 1000 / (pi / 12 * (self.top**2 + self.top * base + base**2))
        high, n, sum = min(depth, height), 2000, 0.0
        for i in range(n):
            wide = base + (self.top - base) * (i + 0.5) / n * high / height
            sum += pi / 4 * wide**2 * high / n
        return self.pots * sum * 1000

    def water(self, depth):
        return self.length * self.width * depth * 1000 - self.solid(depth)

    def hose(self):
        return pi / 4 * self.bore**2 * self.hose_length * 1000

    def down(self, litres):
        if self.surface:
            return litres / 1000 / self.surface
        return 0.0

    def supply(self, depth, down=0.0):
        static = self.lift + down + depth
        top = self.max_flow / 3.6e6
        return root(lambda q: self.max_head * (1 - (q / top) ** 2) - static - loss(q, self.bore, self.hose_length, 3.0), top)

    def drain(self, depth):
        if self.fitting:
            drop = min(self.fitting_length, self.lift)
            full = root(lambda q: depth + drop - loss(q, self.fitting, self.fitting_length, 1.5), 0.1)
            mouth = self.fitting
        else:
            top = self.max_flow / 3.6e6
            r = 1.5 * self.max_head / top**2
            full = root(lambda q: self.lift + depth - r * q * q - loss(q, self.bore, self.hose_length, 3.0), 0.1)
            mouth = self.bore
        return min(full, 1.84 * pi * mouth * (depth + 0.005) ** 1.5)

    def pipe(self, head):
        return min(1.84 * pi * self.stand * head**1.5, 0.6 * pi / 4 * self.stand**2 * sqrt(2 * G * head))

    def falling(self, depth):
        return self.drain(depth) + (self.pipe(depth - self.crest) if depth > self.crest else 0.0)

    def seconds(self, low, high, flow):
        step, sum, at = (high - low) / self.layers, 0.0, self.water(low)
        for i in range(self.layers):
            bottom = low + i * step
            above = self.water(bottom + step)
            sum += (above - at) / 1000 / flow(bottom + step / 2)
            at = above
        return sum

    def sheet(self):
        rise = self.seconds(0, self.full_at, lambda d: self.supply(d, self.down(self.water(d) + self.hose())))
        fill = rise + self.hose() / 1000 / self.supply(0)
        to_full = self.water(self.full_at) + self.hose()
        flow = to_full / fill * 3600
        head = root(lambda h: flow / 3.6e6 - self.pipe(h), 1.0)
        peak = self.crest + head
        drunk = self.pots * self.volume * self.capacity * 0.5
        v_flood = self.water(peak) + drunk + self.hose()
        out = self.water(peak) + self.hose()
        point = self.supply(peak, self.down(out))
        lifted = self.lift + self.down(out) + peak + loss(point, self.bore, self.hose_length, 3.0)
        drawn = self.down(to_full) if self.surface else to_full / self.usable * 0.4
        yield "fill_s", fill
        yield "flow_l_per_h", flow
        yield "overflow_head_mm", head * 1000
        yield "v_flood_l", v_flood
        yield "bare_l", self.length * self.width * peak * 1000 + self.hose()
        yield "to_rim_l", self.water(self.rim)
        yield "over_s", (self.water(self.rim) - self.water(self.crest)) / flow * 3600
        yield "fall_s", self.seconds(self.full_at, peak, self.falling)
        yield "drain_s", self.seconds(0.001, peak, self.falling)
        yield "drawdown_mm", drawn * 1000
        yield "end_flow_l_per_h", self.supply(self.full_at, drawn) * 3.6e6
        yield "load_kg_per_m2", peak * 1000
        yield "left_l", self.usable - v_flood
        yield "power_w", 998.2 * G * point * lifted / 0.25


ASKED = ("length width rim crest stand full bore hose_length lift max_head max_flow fitting fitting_length usable surface pots top volume capacity").split()
BENCHES = (
    (2.4, 1.2, 0.075, 0.030, 0.050, 0.026, 0.019, 3.0, 0.8, 2.2, 2000, 0, 0, 200, 0, 96, 0.09, 0.35, 0.87),
    (2.4, 1.2, 0.075, 0.030, 0.050, 0.026, 0.019, 3.0, 0.8, 2.2, 2000, 0, 0, 200, 0.5, 0, 0, 0, 0),
    (1.2, 0.6, 0.070, 0.035, 0.032, 0, 0.016, 2.0, 0.6, 1.8, 1200, 0.020, 0.5, 90, 0.25, 40, 0.08, 0.25, 0.6),
    (3.0, 1.5, 0.090, 0.045, 0.050, 0.040, 0.025, 5.0, 0.9, 3.0, 3500, 0.025, 1.2, 500, 0.8, 150, 0.10, 0.45, 0.7),
    (1.8, 0.9, 0.080, 0.040, 0.040, 0.034, 0.019, 4.0, 0.5, 1.5, 1500, 0, 0, 220, 0, 60, 0.11, 0.60, 0.5),
)

print(",".join(ASKED) + ",quantity,want")
for b in BENCHES:
    bench = Bench(layers=LAYERS if b[15] == 0 else 400, **dict(zip(ASKED, b)))
    for quantity, want in bench.sheet():
        print(",".join(f"{v:g}" for v in b) + f",{quantity},{want:.7g}")
