"""Write hydraulics-fluids.csv: pipe friction and hose losses by fluids.

Command line, in this directory, with Debian's python3-fluids 1.0.22-2:

    /usr/bin/python3 hydraulics-fluids.py > hydraulics-fluids.csv

fluids solves Colebrook through the Lambert W function, not by iteration, and
shares no code with benchtide. Losses are Darcy-Weisbach at 20 degrees C.
"""

from math import pi

from fluids import Colebrook, K_from_f, Reynolds, Swamee_Jain_1976, head_from_K

NU = 1.0034e-6
WALL = 1.5e-6

print("quantity,reynolds,roughness,bore_m,length_m,minor,flow_m3s,want")
for re in (4e3, 7e3, 1.6e4, 3e4, 6e4, 2e5, 5e5, 3e6, 1e8):
    for roughness in (0, 1e-5, 1.2e-4, 1e-3, 1e-2):
        print(f"colebrook,{re:g},{roughness:g},,,,,{Colebrook(re, roughness):.9g}")
        print(f"swamee-jain,{re:g},{roughness:g},,,,,{Swamee_Jain_1976(re, roughness):.9g}")
for bore in (0.013, 0.016, 0.019, 0.025, 0.032):
    for litres_per_hour in (50, 600, 1000, 1500, 2500):
        flow = litres_per_hour / 3.6e6
        v = flow / (pi / 4 * bore**2)
        re = Reynolds(V=v, D=bore, nu=NU)
        if 2000 < re < 4000:
            continue
        f = 64 / re if re <= 2000 else Colebrook(re, WALL / bore)
        k = K_from_f(fd=f, L=3, D=bore) + 1.5
        print(f"loss,,{WALL:g},{bore:g},3,1.5,{flow:.9g},{head_from_K(K=k, V=v, g=9.80665):.9g}")
