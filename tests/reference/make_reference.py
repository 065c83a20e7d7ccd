#!/usr/bin/env python3
"""Computes the tables of this folder whose head says `how: computed by make_reference.py`.

The tests read the committed tables and never run this script; it is kept so that anyone can see how a number came
about, and recompute it. It shares no code with the bench: gas properties come from Cantera, water and coolant from
CoolProp, friction factors from fluids, and the formulas are written out here a second time, in another language.

    pip install cantera==3.2.0 CoolProp==8.0.0 fluids==1.3.1 ambiance==1.3.1 numpy scipy
    python3 make_reference.py            # writes the tables
    python3 make_reference.py --check    # recomputes, compares, writes nothing

SI throughout, except where a column's name says otherwise. Sources by their keys in ../SOURCES.md.
"""
import csv
import io
import math
import os
import sys

import ambiance
import cantera as ct
import fluids
from CoolProp.CoolProp import PropsSI
from scipy.integrate import solve_ivp

HERE = os.path.dirname(os.path.abspath(__file__))
CHECK = "--check" in sys.argv
failures = []


def out(name, source, tolerance, columns, rows, digits=10, note=None, licence="our own computation"):
    """One table with its head. `columns` maps a name to what the name cannot say, or to None."""

    def text(x):
        return x if isinstance(x, str) else f"{float(x):.{digits}g}"

    head = io.StringIO()
    head.write(f"# source: {source}\n# how: computed by make_reference.py\n")
    for column, meaning in columns.items():
        if meaning:
            head.write(f"# column {column}: {meaning}\n")
    if note:
        head.write(f"# note: {note}\n")
    head.write(f"# licence: {licence}\n# tolerance: {tolerance}\n")
    body = io.StringIO()
    writer = csv.writer(body, lineterminator="\n")
    writer.writerow(columns)
    for row in rows:
        assert len(row) == len(columns), name
        writer.writerow([text(x) for x in row])
    path = os.path.join(HERE, name)
    if not CHECK:
        with open(path, "w") as file:
            file.write(head.getvalue() + body.getvalue())
        print(f"wrote {name} ({len(rows)} rows)")
        return
    old = [row for row in csv.reader(open(path)) if not row[0].startswith("#")]
    new = list(csv.reader(io.StringIO(body.getvalue())))
    worst = 0.0
    if len(old) != len(new):
        failures.append(f"{name}: {len(old)} rows, recomputed {len(new)}")
    for a, b in zip(old, new):
        for x, y in zip(a, b):
            try:
                worst = max(worst, abs(float(x) - float(y)) / max(abs(float(x)), abs(float(y)), 1e-9))
            except ValueError:
                if x != y:
                    failures.append(f"{name}: {x!r}, recomputed {y!r}")
    if worst > 1e-8:
        failures.append(f"{name}: differs by {worst:.1e}")
    print(f"checked {name}: worst relative difference {worst:.1e}")


# ---------------------------------------------------------------- ambient air
def us1976(h):
    lapse, t0, p0, r = 0.0065, 288.15, 101325.0, 8314.32 / 28.9644
    t = t0 - lapse * h
    p = p0 * (t / t0) ** (9.80665 / (r * lapse))
    return t, p, p / (r * t)


rows = []
for h in (-5000, -2000, -500, 0, 500, 1000, 1500, 2000, 2500, 3000, 4000, 5000, 5500, 8000, 11000):
    t, p, rho = us1976(h)
    # A second implementation, which takes geometric height.
    second = ambiance.Atmosphere(h * 6356766.0 / (6356766.0 - h))
    assert abs(float(second.pressure[0]) / p - 1) < 1e-5 and abs(float(second.temperature[0]) / t - 1) < 1e-6
    rows.append([h, t, p, rho])
out("ussa1976_atmosphere.csv", "USSA1976, equations 23, 33a, 42", "1e-5 relative",
    {"altitude_m": "geopotential", "t_k": None, "p_pa": None, "density_kg_m3": None}, rows,
    note="a second implementation (package ambiance, constants of ISO 2533) agrees to 1e-5")


def cipm2007(t, p, h, xco2=400e-6):
    """Density of moist air; t in degrees Celsius."""
    tk = t + 273.15
    psv = math.exp(1.2378847e-5 * tk**2 - 1.9121316e-2 * tk + 33.93711047 - 6.3431645e3 / tk)
    f = 1.00062 + 3.14e-8 * p + 5.6e-7 * t**2
    xv = h * f * psv / p
    z = (1 - p / tk * (1.58123e-6 - 2.9331e-8 * t + 1.1043e-10 * t**2 + (5.707e-6 - 2.051e-8 * t) * xv
                       + (1.9898e-4 - 2.376e-6 * t) * xv**2) + (p / tk) ** 2 * (1.83e-11 - 0.765e-8 * xv**2))
    ma = (28.96546 + 12.011 * (xco2 - 400e-6)) * 1e-3
    return p * ma / (z * 8.314472 * tk) * (1 - xv * (1 - 18.01528e-3 / ma)), z, xv, psv, f


rows = []
MMHG = 133.322387
for t, p, h in [(15, 101325, 0), (15, 101325, .6), (20, 101325, 0), (20, 101325, .5), (20, 100000, .5), (25, 100000, 0),
                (25, 100000, .3), (25, 99000, .5), (30, 101325, .8), (35, 100000, .6), (40, 101325, .9),
                (0, 101325, .5), (-10, 101325, .5), (25, 89875, .5), (20, 79495, .3), (10, 730 * MMHG, .4),
                (40, 760 * MMHG, .4)]:
    rho, z, xv, psv, f = cipm2007(t, p, h)
    rows.append([t, p, h, psv, f, xv, z, rho])
out("picard2008_moist_air.csv", "PICARD2008, equations 1, A1.1 to A1.4",
    "1e-6 relative for saturation pressure, factor and fraction; 1e-5 relative for density times compressibility",
    {"t_celsius": None, "p_pa": None, "relative_humidity": None, "saturation_pressure_pa": None,
     "enhancement_factor": None, "vapour_mole_fraction": None,
     "compressibility": "the bench's gas is ideal, so its density is this column times the next",
     "density_kg_m3": "of real moist air; the two last rows are printed as 1.19569 and 1.11497 in an older handbook"},
    rows, note="coefficients from memory, confirmed by a public transcription and by the two printed densities")

rows = [[t, PropsSI("P", "T", t + 273.15, "Q", 1, "Water")] for t in (0.01, 5, 10, 15, 20, 25, 30, 35, 40, 45, 50, 55)]
out("coolprop8_saturation_pressure.csv", "COOLPROP8, equation of state of water (IAPWS-95)", "1e-4 relative",
    {"t_celsius": None, "saturation_pressure_pa": None}, rows)

# ---------------------------------------------------------------- gas
# NASA-9 coefficients of MCBRIDE2002. N2 and O2 are the ones that come with Cantera; the others as in the report's
# own data file, which is in the public domain.
NASA9 = """
phases:
- name: g
  thermo: ideal-gas
  elements: [O, H, C, N, Ar]
  species: [{airNASA9.yaml/species: [N2, O2]}, {species: [Ar, CO2, H2O]}]
species:
- name: Ar
  composition: {Ar: 1}
  thermo:
    model: NASA9
    temperature-ranges: [200.0, 1000.0, 6000.0]
    data:
    - [0.0, 0.0, 2.5, 0.0, 0.0, 0.0, 0.0, -745.375, 4.37967491]
    - [20.10538475, -5.99266107e-02, 2.500069401, -3.99214116e-08, 1.20527214e-11, -1.819015576e-15, 1.078576636e-19, -744.993961, 4.37918011]
- name: CO2
  composition: {C: 1, O: 2}
  thermo:
    model: NASA9
    temperature-ranges: [200.0, 1000.0, 6000.0]
    data:
    - [4.94365054e+04, -626.411601, 5.30172524, 2.503813816e-03, -2.127308728e-07, -7.68998878e-10, 2.849677801e-13, -4.52819846e+04, -7.04827944]
    - [1.176962419e+05, -1788.791477, 8.29152319, -9.22315678e-05, 4.86367688e-09, -1.891053312e-12, 6.33003659e-16, -3.90835059e+04, -26.52669281]
- name: H2O
  composition: {H: 2, O: 1}
  thermo:
    model: NASA9
    temperature-ranges: [200.0, 1000.0, 6000.0]
    data:
    - [-3.94796083e+04, 575.573102, 0.931782653, 7.22271286e-03, -7.34255737e-06, 4.95504349e-09, -1.336933246e-12, -3.30397431e+04, 17.24205775]
    - [1.034972096e+06, -2412.698562, 4.64611078, 2.291998307e-03, -6.83683048e-07, 9.42646893e-11, -4.82238053e-15, -1.384286509e+04, -7.97814851]
"""
gas = ct.Solution(yaml=NASA9)
# NASA polynomials give the entropy at 1 bar; Cantera takes them as of 1 atm. So what it calls the entropy at 101325 Pa
# is the tabulated entropy at 1 bar.
P_REFERENCE = 101325.0
SPECIES = ["N2", "O2", "Ar", "CO2", "H2O"]
AIR = {"N2": 0.78084, "O2": 0.209476, "Ar": 0.009365, "CO2": 0.000319}
gas.TPX = 298.15, 1e5, AIR
M_AIR = gas.mean_molecular_weight


def moist(vapour):
    """Moles for each mole of moist air with this mole fraction of vapour."""
    return {**{k: v * (1 - vapour) for k, v in AIR.items()}, "H2O": vapour}


def burnt(afr, vapour=0.0, carbon=12, hydrogen=23):
    """Moles after complete lean combustion of one mole of fuel; `afr` counts the moist air."""
    fuel_kg = carbon * 12.011 + hydrogen * 1.008
    air = moist(vapour)
    gas.TPX = 298.15, 1e5, air
    n_air = afr * fuel_kg / gas.mean_molecular_weight
    n = {k: v * n_air for k, v in air.items()}
    n["O2"] -= carbon + hydrogen / 4
    n["CO2"] += carbon
    n["H2O"] += hydrogen / 2
    assert n["O2"] > 0
    return n


MIXTURES = [(s, {s: 1.0}, 0, 0) for s in SPECIES] + [("dry_air", AIR, 0, 0)]
MIXTURES += [(f"burnt_afr{a}", burnt(a), 0, a) for a in (18, 24, 40)]
MIXTURES += [("moist_air_30", moist(0.03), 0.03, 0), ("moist_air_30_burnt_afr24", burnt(24, 0.03), 0.03, 24)]
properties, compositions = [], []
for name, x, vapour, afr in MIXTURES:
    gas.TPX = 298.15, 1e5, x
    h298 = gas.enthalpy_mass
    r = ct.gas_constant / gas.mean_molecular_weight
    fraction = 1 / (1 + afr) if afr else 0
    compositions.append([name, vapour, fraction, gas.mean_molecular_weight, r] + [float(gas[s].X[0]) for s in SPECIES])
    for t in [250, 298.15, 300, 350, 400, 450, 500, 600, 700, 800, 900, 1000, 1200, 1400, 1600, 1800, 2000, 2250, 2500]:
        gas.TP = t, P_REFERENCE
        properties.append([name, t, gas.cp_mass, gas.cp_mass / (gas.cp_mass - r), gas.enthalpy_mass - h298,
                           gas.enthalpy_mass, gas.entropy_mass])
out("mcbride2002_gas_properties.csv", "MCBRIDE2002 polynomials, by CANTERA3", "5e-4 relative",
    {"gas": "burnt_afrN: complete combustion of C12H23 in N kg of air for each kg; moist_air_30: 3 % vapour by mole",
     "t_k": None, "cp_j_kg_k": None, "gamma": None, "h_above_298_j_kg": None, "h_with_formation_j_kg": None,
     "s_at_1_bar_j_kg_k": None}, properties)
out("mcbride2002_gas_composition.csv", "MCBRIDE2002 molar masses, composition of \"Air\" there; by CANTERA3", "1e-6 relative",
    {"gas": "as in mcbride2002_gas_properties.csv", "vapour_mole_fraction": "of the air", "burned_fuel_fraction": "kg/kg",
     "molar_mass_kg_kmol": None, "r_j_kg_k": None, "x_n2": None, "x_o2": None, "x_ar": None, "x_co2": None,
     "x_h2o": None}, compositions)

rows = []
for name, fluid in (("N2", "Nitrogen"), ("O2", "Oxygen"), ("Ar", "Argon"), ("CO2", "CarbonDioxide"), ("H2O", "Water"), ("dry_air", "Air")):
    for t in (300, 400, 600, 800, 1000, 1400, 2000):
        try:
            rows.append([name, t, PropsSI("CP0MASS", "T", t, "P", 1000.0, fluid)])
        except ValueError:
            pass  # outside that equation of state
out("coolprop8_ideal_heat_capacity.csv", "COOLPROP8, ideal-gas part of each fluid's reference equation of state",
    "6e-4 relative, H2O above 1000 K 1.2e-2",
    {"gas": None, "t_k": None, "cp_j_kg_k": None}, rows,
    note="for steam above 1000 K the two sources differ by up to 1.1 %, because they sum the states of the molecule differently")

rows = []
for s in SPECIES:
    for t in [200 + 25 * k for k in range(93)]:
        gas.TPX = t, P_REFERENCE, {s: 1}
        rows.append([s, t, gas.cp_mole / 1e3, gas.enthalpy_mole / 1e3, gas.entropy_mole / 1e3])
out("cantera3_species_enthalpy.csv", "MCBRIDE2002 polynomials, by CANTERA3", "1e-5 relative, interpolated",
    {"species": None, "t_k": None, "cp_j_mol_k": None, "h_j_mol": "with formation enthalpy",
     "s_j_mol_k": "at 1 bar"}, rows,
    note="the suite interpolates here for its own sums of energy and efficiency, with cp as the slope of h")


# ---------------------------------------------------------------- compressible flow
def isentropic(m, g):
    t = 1 / (1 + (g - 1) / 2 * m * m)
    return t ** (g / (g - 1)), t, t ** (1 / (g - 1)), (1 / m) * ((2 / (g + 1)) / t) ** ((g + 1) / (2 * (g - 1)))


rows = [[g, m, *isentropic(m, g)] for g in (1.4, 1.33, 1.3)
        for m in (0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0, 1.2, 1.5, 2.0, 3.0)]
out("naca1135_isentropic_flow.csv", "NACA1135, equations 43 to 45, 80", "1e-6 relative",
    {"gamma": None, "mach": None, "p_over_total": None, "t_over_total": None, "density_over_total": None,
     "area_over_throat": None}, rows)

critical = lambda g: (2 / (g + 1)) ** (g / (g - 1))
choke = lambda g: math.sqrt(g) * (2 / (g + 1)) ** ((g + 1) / (2 * (g - 1)))
out("naca1135_choked_flow.csv", "NACA1135, equations 43, 80 at Mach 1", "1e-6 relative",
    {"gamma": None, "critical_pressure_ratio": "static over total",
     "flow_function": "mass flow times sqrt(R T_total) over area and p_total"},
    [[g, critical(g), choke(g)] for g in (1.25, 1.27, 1.3, 1.33, 4 / 3, 1.35, 1.4)])


def st_venant(area, p0, t0, p, g, r):
    x = max(p / p0, critical(g))
    return area * p0 / math.sqrt(r * t0) * math.sqrt(2 * g / (g - 1) * (x ** (2 / g) - x ** ((g + 1) / g)))


rows = [[case, a, p0, t0, p, g, r, "yes" if p / p0 <= critical(g) else "no", st_venant(a, p0, t0, p, g, r)]
        for case, a, p0, t0, p, g, r in [
            ("intake valve, small drop", 8e-4, 2.0e5, 320, 1.95e5, 1.4, 287.0),
            ("intake valve, almost none", 8e-4, 2.0e5, 320, 1.9998e5, 1.4, 287.0),
            ("orifice, subcritical", 1e-4, 2.0e5, 300, 1.5e5, 1.4, 287.0),
            ("orifice, just subcritical", 1e-4, 2.0e5, 300, 1.06e5, 1.4, 287.0),
            ("orifice, choked", 1e-4, 2.0e5, 300, 1.0e5, 1.4, 287.0),
            ("exhaust blowdown", 6e-4, 8.0e5, 1400, 2.5e5, 1.30, 288.0),
            ("turbine nozzle, subcritical", 9e-4, 2.6e5, 900, 1.6e5, 1.33, 287.5),
            ("turbine nozzle, choked", 9e-4, 3.5e5, 900, 1.1e5, 1.33, 287.5),
            ("no difference", 6e-4, 2.0e5, 320, 2.0e5, 1.4, 287.0)]]
out("heywood1988_nozzle_flow.csv", "HEYWOOD1988, equations C.8 and C.9 (St Venant and Wantzel)", "1e-6 relative",
    {"case": None, "area_m2": "effective", "p_total_pa": None, "t_total_k": None, "p_downstream_pa": None,
     "gamma": None, "r_j_kg_k": None, "choked": None, "mass_flow_kg_s": None}, rows)

# ---------------------------------------------------------------- compressor, charge cooler, turbine
rows = []
for ratio in (1.2, 1.5, 2.0, 2.5, 3.0, 3.5, 4.0):
    for efficiency in (0.65, 0.72, 0.78, 1.0):
        for effectiveness in (0.0, 0.7, 0.9):
            t1 = 298.15
            t2 = t1 * (1 + (ratio ** (0.4 / 1.4) - 1) / efficiency)
            t3 = t2 - effectiveness * (t2 - 298.15)
            rows.append([ratio, efficiency, effectiveness, t2, t3, ratio * t1 / t3])
out("watson1982_density_ratio.csv", "WATSON1982, chapters 3 and 10: isentropic efficiency, effectiveness; gamma 1.4",
    "1e-6 relative", {"pressure_ratio": None, "efficiency": "isentropic, total to total", "effectiveness": None,
                      "t2_k": "inlet and coolant at 298.15 K", "t_cooled_k": None,
                      "density_ratio": "without pressure loss of the cooler"}, rows)

rows = []
for t, ratio, g, cp in [(900, 2.0, 1.33, 1150.0), (900, 3.0, 1.33, 1150.0), (1000, 2.5, 1.34, 1140.0), (300, 1.5, 1.4, 1005.0)]:
    dh = cp * t * (1 - ratio ** (-(g - 1) / g))
    rows.append([t, ratio, g, cp, dh, math.sqrt(2 * dh), t - 0.70 * dh / cp])
out("watson1982_turbine_expansion.csv", "WATSON1982, chapter 4: total-to-static expansion of a perfect gas", "1e-6 relative",
    {"t_total_k": None, "expansion_ratio": None, "gamma": None, "cp_j_kg_k": None, "isentropic_drop_j_kg": None,
     "spouting_velocity_m_s": None, "t_out_at_efficiency_0_70_k": None}, rows)


# ---------------------------------------------------------------- cycles
def dual_states(t1, p1, r, alpha, beta, g, gas_constant):
    """Air-standard dual cycle: heat at constant volume (p3/p2 = alpha), then at constant pressure (V4/V3 = beta)."""
    cv = gas_constant / (g - 1)
    t2, p2 = t1 * r ** (g - 1), p1 * r**g
    t3, p3 = t2 * alpha, p2 * alpha
    t4 = t3 * beta
    t5 = t4 * (beta / r) ** (g - 1)
    q = cv * (t3 - t2) + g * cv * (t4 - t3)
    w = q - cv * (t5 - t1)
    closed = 1 - r ** (1 - g) * (alpha * beta**g - 1) / ((alpha - 1) + g * alpha * (beta - 1))
    assert abs(w / q - closed) < 1e-12
    return t2, p2, p3, t4, t5, q, w / q, w / (gas_constant * t1 / p1 * (1 - 1 / r))


CYCLE = {"case": None, "t1_k": None, "p1_pa": None, "compression_ratio": None, "alpha": "p3/p2, heat at constant volume",
         "beta": "V4/V3, heat at constant pressure", "gamma": None, "t2_k": None, "p2_pa": None, "p_max_pa": None,
         "t_max_k": None, "t_end_k": "before the heat is taken away", "heat_j_kg": None, "efficiency": None, "mep_pa": None}
rows = [[case, t1, p1, r, a, b, g, *dual_states(t1, p1, r, a, b, g, 287.0)] for case, t1, p1, r, a, b, g in [
    ("Otto 8", 300, 1e5, 8, 2.5, 1, 1.4), ("Otto 10", 300, 1e5, 10, 3, 1, 1.4), ("Otto 17", 330, 2e5, 17, 2.2, 1, 1.35),
    ("Diesel 18", 300, 1e5, 18, 1, 2, 1.4), ("Diesel 16", 330, 2e5, 16, 1, 2.5, 1.4),
    ("dual 18", 300, 1e5, 18, 1.5, 1.2, 1.4), ("dual 17", 320, 2e5, 17, 1.6, 1.8, 1.4), ("dual 17", 320, 2e5, 17, 1.6, 1.8, 1.35)]]
out("heywood1988_ideal_cycles.csv", "HEYWOOD1988, table 5.2; R 287 J/(kg K)", "1e-6 relative", CYCLE, rows)


def real_air_cycle(t1, p1, r, alpha, beta):
    gas.TPX = t1, p1, AIR
    v1, s1, u1 = 1 / gas.density, gas.entropy_mass, gas.int_energy_mass
    gas.SV = s1, v1 / r
    t2, p2, u2 = gas.T, gas.P, gas.int_energy_mass
    gas.TP = t2 * alpha, p2 * alpha
    u3, h3 = gas.int_energy_mass, gas.enthalpy_mass
    gas.TP = t2 * alpha * beta, p2 * alpha
    t4, h4 = gas.T, gas.enthalpy_mass
    gas.SV = gas.entropy_mass, v1
    t5, u5 = gas.T, gas.int_energy_mass
    q = (u3 - u2) + (h4 - h3)
    w = q - (u5 - u1)
    return t2, p2, p2 * alpha, t4, t5, q, w / q, w / (v1 * (1 - 1 / r))


def otto_alpha(t1, p1, r, q):
    gas.TPX = t1, p1, AIR
    v1, s1 = 1 / gas.density, gas.entropy_mass
    gas.SV = s1, v1 / r
    t2 = gas.T
    gas.UV = gas.int_energy_mass + q, v1 / r
    return gas.T / t2


rows = [[case, t1, p1, r, a, b, *real_air_cycle(t1, p1, r, a, b)] for case, t1, p1, r, a, b in [
    ("Diesel 18", 300, 1e5, 18, 1, 2), ("dual 18", 300, 1e5, 18, 1.5, 1.2), ("dual 17 boosted", 320, 2e5, 17, 1.6, 1.8),
    ("Otto 8, 800 kJ/kg", 290.15, 1e5, 8, otto_alpha(290.15, 1e5, 8, 800e3), 1),
    ("Otto 17, 900 kJ/kg", 330, 2e5, 17, otto_alpha(330, 2e5, 17, 900e3), 1)]]
out("mcbride2002_real_air_cycles.csv", "MCBRIDE2002 polynomials of dry air, cycle balances by CANTERA3",
    "1e-4 relative for the state after compression",
    {k: v for k, v in CYCLE.items() if k != "gamma"}, rows)


# ---------------------------------------------------------------- cylinder
def cylinder(theta_deg, bore, stroke, rod, ratio):
    """Volume, its slope per radian, and piston travel from top dead centre (HEYWOOD1988, equations 2.4 to 2.6)."""
    a, th, area = stroke / 2, math.radians(theta_deg), math.pi / 4 * bore * bore
    root = math.sqrt(rod * rod - (a * math.sin(th)) ** 2)
    travel = rod + a - (a * math.cos(th) + root)
    slope = area * a * math.sin(th) * (1 + a * math.cos(th) / root)
    return area * stroke / (ratio - 1) + area * travel, slope, travel


rows = [[*engine, th, *cylinder(th, *engine)] for engine in ((0.100, 0.115, 0.190, 17.0), (0.108, 0.132, 0.214, 17.0))
        for th in (-180, -120, -90, -60, -30, -10, 0, 5, 10, 20, 30, 45, 60, 90, 120, 150, 180)]
out("heywood1988_slider_crank.csv", "HEYWOOD1988, equations 2.4 to 2.6", "1e-9 relative",
    {"bore_m": None, "stroke_m": None, "conrod_m": None, "compression_ratio": None,
     "crank_angle_deg": "after top dead centre", "volume_m3": None, "slope_m3_rad": None, "travel_m": None}, rows, digits=15)

rows = [[a, m, y, 1 - math.exp(-a * y ** (m + 1)), a * (m + 1) * y**m * math.exp(-a * y ** (m + 1))]
        for a, m in ((5, 2), (6.908, 2), (6.908, 1), (6.908, 0.5), (6.9, 1.1))
        for y in (0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0)]
out("wiebe1970_burn.csv", "HEYWOOD1988, section 9.2, and WIEBE1970, not scaled to end at 1", "1e-9 relative",
    {"completeness": "a", "exponent": "m", "progress": "angle since the start over the duration", "burned": None,
     "slope": "of burned over progress"}, rows, digits=15)

rows = [[case, b, p, t, w, 3.26 * b**-0.2 * p**0.8 * t**-0.55 * w**0.8] for case, b, p, t, w in [
    ("middle of compression", 0.1, 1000, 700, 2.28 * 5.75), ("peak", 0.1, 12000, 1900, 2.28 * 5.75 + 6.0),
    ("expansion", 0.1, 2000, 1300, 2.28 * 5.75 + 8.0), ("round numbers", 0.1, 5000, 1000, 15.0),
    ("heavy duty peak", 0.13, 16000, 1800, 2.28 * 9.0 + 8.0)]]
out("woschni1967_coefficient.csv", "HEYWOOD1988, equation 12.19 (WOSCHNI1967): T^-0.55, p in kPa", "1e-5 relative",
    {"case": None, "bore_m": None, "p_kpa": None, "t_k": None, "gas_speed_m_s": None, "h_w_m2_k": None}, rows,
    note="WOSCHNI1967 itself has the factor 130 with bar and T^-0.53, which gives 14 to 16 % more at these temperatures")

speed, swept, tr, pr, vr = 5.75, math.pi / 4 * 0.01 * 0.115, 380.0, 2.2e5, 9.6e-4
rows = [["exchange", speed, swept, tr, pr, vr, 0.0, 6.18 * speed], ["compression", speed, swept, tr, pr, vr, 0.0, 2.28 * speed],
        ["combustion", speed, swept, tr, pr, vr, 4.0e6, 2.28 * speed + 3.24e-3 * swept * tr / (pr * vr) * 4.0e6]]
out("woschni1967_gas_speed.csv", "HEYWOOD1988, equation 12.18 (WOSCHNI1967), no swirl", "1e-5 relative",
    {"phase": None, "piston_speed_m_s": None, "swept_volume_m3": None, "t_reference_k": None, "p_reference_pa": None,
     "volume_reference_m3": None, "p_above_motored_pa": None, "gas_speed_m_s": None}, rows)


# ---------------------------------------------------------------- a closed cylinder, by another integrator
CLOSED = {  # keys of an engine file; the engine of the test has these and no others matter
    "part load": {"cylinders.bore_m": 0.108, "cylinders.stroke_m": 0.132, "cylinders.conrod_m": 0.214,
                  "cylinders.compression_ratio": 17.0, "valves.intake_closes_deg": 580, "valves.exhaust_opens_deg": 130,
                  "fuel.lhv_j_kg": 42.8e6, "fuel.hydrogen_to_carbon": 23 / 12, "combustion.start_deg": -4.0,
                  "combustion.start_per_1000_rpm_deg": 0.0, "combustion.timing_shift_deg": 0.0,
                  "combustion.premixed_share": 0.15, "combustion.premixed_share_drop": 0.0,
                  "combustion.premixed_duration_deg": 10.0, "combustion.premixed_exponent": 2.0,
                  "combustion.main_duration_deg": 65.0, "combustion.main_duration_per_1000_rpm_deg": 0.0,
                  "combustion.main_duration_at_reference_fuel_deg": 0.0, "combustion.main_exponent": 1.1,
                  "combustion.completeness": 6.9, "wall_heat.head_k": 510.0, "wall_heat.liner_k": 425.0,
                  "wall_heat.closed_speed_coefficient": 2.28, "wall_heat.combustion_coefficient_m_s_k": 3.24e-3,
                  "wall_heat.multiplier": 1.05, "wall_heat.motored_exponent": 1.36,
                  "speed_rpm": 1600.0, "vapour_mole_fraction": 0.0, "charge_kg": 2.2e-3, "charge_k": 360.0,
                  "charge_burned_fraction": 0.001, "fuel_kg": 6.0e-5}}
CLOSED["full load, humid"] = {**CLOSED["part load"], "speed_rpm": 2400.0, "vapour_mole_fraction": 0.02,
                              "charge_kg": 3.4e-3, "charge_k": 375.0, "charge_burned_fraction": 0.0015,
                              "fuel_kg": 1.45e-4, "combustion.start_deg": -8.0, "combustion.main_duration_deg": 80.0}
CLOSED["slow"] = {**CLOSED["part load"], "speed_rpm": 800.0, "charge_kg": 1.3e-3, "fuel_kg": 3.0e-5,
                  "combustion.start_deg": 1.0, "combustion.main_duration_deg": 50.0, "fuel.hydrogen_to_carbon": 1.8}
SPECIES_KG = dict(zip(SPECIES, (28.014e-3, 31.998e-3, 39.95e-3, 44.009e-3, 18.015e-3)))


def closed_cycle(c):
    """Angle, pressure, temperature, work on the piston and wall heat so far, from the closing of the intake to the
    opening of the exhaust, with HEYWOOD1988's equations and an eighth-order integrator of varying step."""
    y = c["fuel.hydrogen_to_carbon"]
    fuel_mol_kg = 12.011e-3 + 1.008e-3 * y
    air = moist(c["vapour_mole_fraction"])
    air_kg = sum(n * SPECIES_KG[s] for s, n in air.items())

    def moles(m, burned):
        """Of each species in m kg of gas that holds `burned` kg of burned fuel."""
        n = {s: air.get(s, 0.0) / air_kg * (m - burned) for s in SPECIES}
        fuel = burned / fuel_mol_kg
        n["O2"] -= fuel * (1 + y / 4)
        n["CO2"] += fuel
        n["H2O"] += fuel * y / 2
        return n

    def molar_h(species):
        gas.TPX = 298.15, 1e5, {species: 1}
        return gas.enthalpy_mole / 1e3

    h_fuel = c["fuel.lhv_j_kg"] + (molar_h("CO2") + y / 2 * molar_h("H2O") - (1 + y / 4) * molar_h("O2")) / fuel_mol_kg
    gear = [c["cylinders." + k] for k in ("bore_m", "stroke_m", "conrod_m", "compression_ratio")]
    bore, stroke = gear[:2]
    piston = math.pi / 4 * bore**2
    swept = piston * stroke
    start, spread = c["combustion.start_deg"], 1 / (1 - math.exp(-c["combustion.completeness"]))
    parts = [(c["combustion.premixed_share"], c["combustion.premixed_duration_deg"], c["combustion.premixed_exponent"]),
             (1 - c["combustion.premixed_share"], c["combustion.main_duration_deg"], c["combustion.main_exponent"])]

    def burned_share(angle):
        total = 0.0
        for share, duration, exponent in parts:
            progress = min(max((angle - start) / duration, 0.0), 1.0)
            total += share * spread * (1 - math.exp(-c["combustion.completeness"] * progress ** (exponent + 1)))
        return total

    def burn_rate(angle):
        total = 0.0
        for share, duration, exponent in parts:
            progress = (angle - start) / duration
            if 0 < progress < 1:
                a = c["combustion.completeness"]
                total += share * spread * a * (exponent + 1) * progress**exponent * math.exp(-a * progress ** (exponent + 1)) / duration
        return total

    def state(m, u, burned, angle):
        n = moles(m, burned)
        volume, slope, travel = cylinder(angle, *gear)
        gas.TPX = 500.0, 1e5, {s: max(k, 0.0) for s, k in n.items()}
        gas.UV = u / m, volume / m
        return gas.T, gas.P, volume, slope * math.pi / 180, travel

    first, last = c["valves.intake_closes_deg"] - 720, c["valves.exhaust_opens_deg"]
    m0, x0 = c["charge_kg"], c["charge_burned_fraction"]
    n0 = moles(m0, m0 * x0)
    v0 = cylinder(first, *gear)[0]
    gas.TPX = c["charge_k"], 1e5, n0
    r0 = ct.gas_constant / gas.mean_molecular_weight
    p0 = m0 * r0 * c["charge_k"] / v0
    gas.TP = c["charge_k"], p0
    u0 = gas.int_energy_mass * m0
    reference = swept * c["charge_k"] / (p0 * v0)
    piston_speed = 2 * stroke * c["speed_rpm"] / 60
    per_degree = 1 / (6 * c["speed_rpm"])

    def slope(angle, z, firing):
        u = z[0]
        burned = c["fuel_kg"] * burned_share(angle) if firing else 0.0
        t, p, volume, dv, travel = state(m0 + burned, u, m0 * x0 + burned, angle)
        motored = p0 * (v0 / volume) ** c["wall_heat.motored_exponent"]
        rise = max(p - motored, 0.0) if firing else 0.0
        w = c["wall_heat.closed_speed_coefficient"] * piston_speed + c["wall_heat.combustion_coefficient_m_s_k"] * reference * rise
        h = c["wall_heat.multiplier"] * 3.26 * bore**-0.2 * (p / 1e3) ** 0.8 * t**-0.55 * w**0.8
        walls = h * per_degree * (2 * piston * (t - c["wall_heat.head_k"]) + math.pi * bore * travel * (t - c["wall_heat.liner_k"]))
        heat = c["fuel_kg"] * burn_rate(angle) * h_fuel if firing else 0.0
        return [heat - walls - p * dv, p * dv, walls]

    # The law breaks where burning starts and where each part ends: integrate from break to break.
    breaks = sorted({first, start, *(start + duration for _, duration, _ in parts), last})
    angles, rows, z = [first + 10 * k for k in range(int((last - first) / 10) + 1)], [], [u0, 0.0, 0.0]
    for a, b in zip(breaks, breaks[1:]):
        inside = [angle for angle in angles if a <= angle < b or angle == b == last]
        solution = solve_ivp(slope, (a, b), z, "DOP853", t_eval=inside + [b] * (b not in inside), args=(a >= start,), rtol=1e-10, atol=1e-9, max_step=2.0)
        assert solution.success
        for angle, column in zip(inside, solution.y.T):
            burned = c["fuel_kg"] * burned_share(angle)
            t, p, *_ = state(m0 + burned, column[0], m0 * x0 + burned, angle)
            rows.append([angle, p, t, column[1], column[2]])
        z = list(solution.y[:, -1])
    return rows


out("closed_cylinder_inputs.csv", "chosen; they describe no real engine", "1e-15 relative, inputs",
    {"case": None, "key": "of an engine file; without a dot: a setting of the run", "value": None},
    [[case, key, value] for case, inputs in CLOSED.items() for key, value in inputs.items()], digits=15)
rows = [[case, *row] for case, inputs in CLOSED.items() for row in closed_cycle(inputs)]
assert len({(row[0], row[1]) for row in rows}) == len(rows) == 28 * len(CLOSED)
out("closed_cylinder.csv", "HEYWOOD1988, sections 14.4, 9.2, 12.4 (equation 12.19); gas of MCBRIDE2002 by CANTERA3; integrated by scipy's DOP853",
    "1e-4 relative with steps of a tenth of a degree",
    {"case": "inputs in closed_cylinder_inputs.csv", "crank_angle_deg": "after firing top dead centre", "p_pa": None,
     "t_k": None, "work_j": "on the piston since the first row", "walls_j": "heat to the walls since the first row"}, rows)


def residual(rc, pe, pi, ti, q, g, r):
    """Ideal constant-volume cycle with an exhaust and an intake pressure: residual fraction and trapped temperature."""
    cv = r / (g - 1)
    t1 = ti * 1.05
    for _ in range(500):
        k = 1 + q / (cv * t1 * rc ** (g - 1))
        xr = (1 / rc) * (pe / pi) ** (1 / g) / k ** (1 / g)
        tr = t1 * (pe / pi) ** ((g - 1) / g) * k ** (1 / g)
        t1 = ti * (1 - xr) / (1 - (1 / (g * rc)) * (pe / pi + (g - 1)))
    # Independent: energy in the cylinder after induction = residual + inflow's enthalpy - work on the piston.
    mr, m1 = pe / (r * tr), pi * rc / (r * t1)
    balance = m1 * cv * t1 - (mr * cv * tr + (m1 - mr) * g * cv * ti - pi * (rc - 1))
    assert abs(balance) < 1e-9 * m1 * cv * t1
    return xr, tr, t1


rows = [[rc, pe, pi, ti, q, 1.35, 287.0, *residual(rc, pe, pi, ti, q, 1.35, 287.0), pe - pi] for rc, pe, pi, ti, q in [
    (8, 1e5, 1e5, 300, 2.5e6), (10, 1e5, 0.5e5, 300, 2.5e6), (17, 1e5, 1e5, 320, 1.2e6), (17, 2.2e5, 2.0e5, 320, 1.5e6),
    (17, 1.8e5, 2.2e5, 320, 1.5e6)]]
out("heywood1988_residual_gas.csv", "HEYWOOD1988, section 5.4 (from memory; an energy balance in the script confirms it)",
    "1e-6 relative", {"compression_ratio": None, "p_exhaust_pa": None, "p_intake_pa": None, "t_intake_k": None,
                      "heat_j_kg": "of the charge", "gamma": None, "r_j_kg_k": None, "residual_fraction": None,
                      "t_residual_k": None, "t_trapped_k": None,
                      "pumping_mep_pa": "positive where it costs work"}, rows)

rows = [[swept, torque, rpm, 4 * math.pi * torque / swept, 2 * math.pi * rpm / 60 * torque]
        for swept, torque, rpm in ((0.002, 320, 2000), (0.006, 900, 1400), (0.0127, 2350, 1300), (0.0044, 500, 1500))]
out("heywood1988_mep_torque.csv", "HEYWOOD1988, equations 2.13, 2.19 (four-stroke)", "1e-9 relative",
    {"displacement_m3": None, "torque_n_m": None, "speed_rpm": None, "mep_pa": None, "power_w": None}, rows, digits=15)

rows = [[y, (1 + y / 4) / AIR["O2"] * M_AIR / (12.011 + 1.008 * y), 34.56 * (4 + y) / (12.011 + 1.008 * y)]
        for y in (1.70, 1.75, 1.80, 1.85, 23 / 12, 2.0, 2.25)]
out("heywood1988_stoichiometry.csv", "complete combustion in dry air of MCBRIDE2002; second column HEYWOOD1988, equation 3.6",
    "1e-5 relative; 5e-4 for HEYWOOD1988, whose air is 21 to 79", {"hydrogen_to_carbon": None, "afr": None,
                                                                "afr_heywood": None}, rows)

# ---------------------------------------------------------------- pipes
rows = [[1000.0, 0.0, fluids.friction_laminar(1000.0)]]
rows += [[re, e, fluids.friction.Colebrook(re, e)] for re in (4e3, 1e4, 5e4, 1e5, 3e5, 1e6)
         for e in (0.0, 1e-4, 4.5e-4, 1e-3, 5e-3, 1e-2)]
out("colebrook1939_friction_factor.csv", "COLEBROOK1939, solved by package fluids", "1e-6 relative",
    {"reynolds": None, "relative_roughness": None, "darcy_factor": None}, rows)

sutherland = lambda t: 1.458e-6 * t**1.5 / (t + 110.4)
rows = [[t, sutherland(t), PropsSI("V", "T", t, "P", 1e5, "Air")] for t in
        (250, 273.15, 288.15, 300, 350, 400, 500, 600, 700, 800, 900, 1000, 1200)]
out("ussa1976_air_viscosity.csv", "USSA1976, equation 51; second column COOLPROP8, air at 1 bar",
    "1e-6 relative; 6e-2 for COOLPROP8, from which Sutherland's form departs with temperature",
    {"t_k": None, "viscosity_pa_s": None, "viscosity_coolprop_pa_s": None}, rows)

rows = []
for m, t, p in [(0.15, 650, 1.03e5), (0.25, 700, 1.05e5), (0.40, 750, 1.08e5)]:
    for d in (0.080, 0.100, 0.125):
        rho, area = p / (287.5 * t), math.pi / 4 * d * d
        v = m / (rho * area)
        re = rho * v * d / sutherland(t)
        f = fluids.friction.Colebrook(re, 1.5e-4 / d)
        rows.append([m, t, rho, d, 3.0, 1.5e-4, 3, 0.30, 1.0, re, f, (f * 3.0 / d + 3 * 0.30 + 1.0) * 0.5 * rho * v * v])
out("darcy_pipe_loss.csv", "Darcy and Weisbach's equation, COLEBROOK1939 by package fluids, viscosity of USSA1976",
    "1e-6 relative", {"mass_flow_kg_s": None, "t_k": None, "density_kg_m3": None, "bore_m": None, "length_m": None,
                      "roughness_m": None, "bends": None, "bend_loss": None, "end_loss": None, "reynolds": None,
                      "darcy_factor": None, "loss_pa": None}, rows)

# ---------------------------------------------------------------- coolant
# 50 % by volume is 52.7 % by mass; 1113 kg/m3 is a handbook density of pure glycol at 20 degrees Celsius.
water_20 = PropsSI("D", "T", 293.15, "P", 101325, "Water")
mixture = f"INCOMP::MEG[{1113.0 / (1113.0 + water_20):.6f}]"
rows = [[t, PropsSI("D", "T", t + 273.15, "P", 2e5, mixture), PropsSI("C", "T", t + 273.15, "P", 2e5, mixture),
         PropsSI("D", "T", t + 273.15, "P", 2e5, "Water"), PropsSI("C", "T", t + 273.15, "P", 2e5, "Water")]
        for t in (20, 40, 60, 80, 85, 90, 95, 100)]
out("coolprop8_coolant.csv", "COOLPROP8, ethylene glycol and water, and water", "1.5e-2 relative (inhibited glycol is denser)",
    {"t_celsius": None, "density_50_50_kg_m3": "half and half by volume", "heat_capacity_50_50_j_kg_k": None,
     "density_water_kg_m3": None, "heat_capacity_water_j_kg_k": None}, rows)
at = lambda what, fluid: PropsSI(what, "T", 363.15, "P", 2e5, fluid)
rows = [[q, flow / 60000, at("D", fluid), at("C", fluid), q / (flow / 60000 * at("D", fluid) * at("C", fluid))]
        for q, flow in ((50e3, 120), (100e3, 200), (100e3, 300), (150e3, 300)) for fluid in (mixture, "Water")]
out("coolprop8_coolant_rise.csv", "energy balance of a steady flow, properties at 90 degrees Celsius of COOLPROP8",
    "1e-6 relative", {"heat_w": None, "flow_m3_s": None, "density_kg_m3": None, "heat_capacity_j_kg_k": None,
                      "rise_k": None}, rows)

if CHECK:
    print("\n".join(["FAIL"] + failures) if failures else "every table reproduces")
    sys.exit(1 if failures else 0)
