"""Holds the program's liquids and formulas against general-purpose libraries.

physics.json is written by the Rust test `physics_table`, which keeps it current. Here each of its values is computed
anew: liquids by CoolProp (reference equations of state) and by the chemicals library, formulas by numerical methods of
scipy that share nothing with the program. Every comparison states its greatest deviation and the bound it is held to:
the accuracy that the source of the form claims, or that of the approximation named beside it.
"""

import json
import math
import pathlib
import sys

import chemicals
import CoolProp.CoolProp as coolprop
import numpy as np
from scipy.integrate import quad, solve_ivp
from scipy.optimize import brentq

HERE = pathlib.Path(__file__).parent
G = 9.80665

# Liquids that CoolProp has an equation of state for.
EQUATION = {
    "water": "Water",
    "heavy water": "HeavyWater",
    "benzene": "Benzene",
    "toluene": "Toluene",
    "diethyl ether": "DiethylEther",
    "n-pentane": "n-Pentane",
    "ethanol": "Ethanol",
    "methanol": "Methanol",
    "acetone": "Acetone",
}

# Key, CoolProp output, bound, and liquids left out with the reason.
AGAINST_EQUATION = [
    ("density_kg_per_m3", "D", 0.006, {}),
    ("vapour_pressure_pa", "P", 0.01, {}),
    # Jasper's lines leave the equations by up to 5 % above room temperature.
    ("surface_tension_n_per_m", "I", 0.08, {}),
    # The transport model of pentane in CoolProp is 23 to 27 % off the handbook; ether and acetone have none.
    ("viscosity_pa_s", "V", 0.06, {"n-pentane", "diethyl ether", "acetone"}),
]

failures = []


def judge(what, deviations, bound):
    """Reports the greatest deviation of a comparison; deviations are (where, relative deviation)."""
    if not deviations:
        failures.append(f"{what}: nothing was compared")
        print(f"{what:<46} NOTHING COMPARED")
        return
    where, worst = max(deviations, key=lambda pair: abs(pair[1]))
    fine = abs(worst) <= bound
    if not fine:
        failures.append(f"{what}: {worst:+.3%} at {where}, bound {bound:.3%}")
    print(f"{what:<46} {len(deviations):>4} values, worst {worst:+.2e} ({where}), bound {bound:.1e}"
          + ("" if fine else "  FAILED"))


def check_equations(rows):
    for key, output, bound, without in AGAINST_EQUATION:
        found = []
        for row in rows:
            name = EQUATION.get(row["liquid"])
            if name is None or row[key] is None or row["liquid"] in without:
                continue
            t = row["t_c"] + 273.15
            if not coolprop.PropsSI("Ttriple", name) < t < 0.9 * coolprop.PropsSI("Tcrit", name):
                continue
            reference = coolprop.PropsSI(output, "T", t, "Q", 0, name)
            found.append((f"{row['liquid']} {row['t_c']:g} C", row[key] / reference - 1))
        judge(f"{key} against CoolProp", found, bound)
    found = []
    for row in rows:
        name = EQUATION.get(row["liquid"])
        heat = row["vaporisation_j_per_mol"]
        if name is None or heat is None:
            continue
        t = row["t_c"] + 273.15
        reference = coolprop.PropsSI("HMOLAR", "T", t, "Q", 1, name) - coolprop.PropsSI("HMOLAR", "T", t, "Q", 0, name)
        # The slope of the form takes the vapour as ideal: far below the boiling point only.
        if coolprop.PropsSI("P", "T", t, "Q", 0, name) < 5e4:
            found.append((f"{row['liquid']} {row['t_c']:g} C", heat / reference - 1))
    judge("heat of vaporisation against CoolProp", found, 0.06)


def check_chemicals(constants, rows):
    """Constants and metals against the tables shipped with the chemicals library, by CAS number."""
    by_formula = {c["liquid"]: c for c in constants}
    numbers = {
        "caesium": "7440-46-2", "rubidium": "7440-17-7", "potassium": "7440-09-7", "sodium": "7440-23-5",
        "gallium": "7440-55-3", "mercury": "7439-97-6", "water": "7732-18-5", "heavy water": "7789-20-0",
        "bromine": "7726-95-6", "benzene": "71-43-2", "toluene": "108-88-3", "THF": "109-99-9",
        "diethyl ether": "60-29-7", "n-pentane": "109-66-0", "dichloromethane": "75-09-2",
        "acetonitrile": "75-05-8", "ethanol": "64-17-5", "methanol": "67-56-1", "acetone": "67-64-1",
    }
    melting, boiling, mass = [], [], []
    for name, number in numbers.items():
        mine = by_formula[name]
        melting.append((name, mine["melting_k"] / chemicals.Tm(number) - 1))
        boiling.append((name, mine["boiling_k"] / chemicals.Tb(number) - 1))
        if name != "heavy water":
            mass.append((name, mine["molar_g_per_mol"] / chemicals.MW(number) - 1))
    # Handbooks disagree by 2.5 K on acetonitrile, by less on all others.
    judge("melting points against chemicals", melting, 0.012)
    judge("boiling points against chemicals", boiling, 0.005)
    judge("molar masses against chemicals", mass, 1e-4)
    # Alcock, Itkin & Horrigan as the library holds them: ln(p/Pa) = A + B/T + C ln T + D T.
    table = chemicals.vapor_pressure.Psat_data_Alcock_elements
    found = []
    for row in rows:
        number = numbers.get(row["liquid"])
        t = row["t_c"] + 273.15
        if number not in table.index or row["vapour_pressure_pa"] is None or t < by_formula[row["liquid"]]["melting_k"]:
            continue
        entry = table.loc[number]
        reference = math.exp(entry["A"] + entry["B"] / t + entry["C"] * math.log(t) + entry["D"] * t)
        found.append((f"{row['liquid']} {row['t_c']:g} C", row["vapour_pressure_pa"] / reference - 1))
    judge("vapour pressure of metals against chemicals", found, 5e-3)


def check_clausing(rows):
    """The transmission of a tube from Clausing's integral equation, solved on a grid."""
    found = []
    for row in rows:
        length = row["length_over_radius"]
        n = 1600
        h = length / n
        z = (np.arange(n) + 0.5) * h
        # Chance that a molecule from the wall at z leaves by an end at distance x, and its density along the wall.
        end = lambda x: (x * x + 2) / (2 * np.sqrt(x * x + 4)) - x / 2
        kernel = lambda x: (1 - x * (x * x + 6) / (x * x + 4) ** 1.5) / 2
        flow = np.linalg.solve(np.eye(n) - h * kernel(np.abs(z[:, None] - z[None, :])), end(length - z))
        disc = lambda x: 1 + x * x / 2 - x / 2 * np.sqrt(x * x + 4)
        # What goes straight through, and what meets the wall first.
        straight = disc(length)
        strike = 2 * end(z)
        found.append((f"L/R {length:g}", row["w"] / (straight + h * np.sum(strike * flow)) - 1))
    # Berman's form is itself an approximation, good to a few thousandths.
    judge("Clausing factor against its integral equation", found, 5e-3)


def check_bond(rows):
    """The critical Bond number: the meridional curvature of the meniscus vanishes at the wall."""

    def curvature_at_wall(bond, theta):
        # Lengths in capillary lengths; heavy liquid above gas: the curvature falls with height.
        radius = math.sqrt(bond)

        def meniscus(apex):
            def slope(s, y):
                r, z, psi = y
                over = apex if r < 1e-9 else math.sin(psi) / r
                return [math.cos(psi), math.sin(psi), 2 * apex - z - over]

            wall = lambda s, y: y[0] - radius
            # Past the vertical it turns back and never meets the wall.
            back = lambda s, y: y[2] - math.pi / 2 - 0.2
            wall.terminal = back.terminal = True
            return solve_ivp(slope, (0, 20 * radius), [1e-10, 0, apex * 1e-10], events=(wall, back), rtol=1e-9,
                             atol=1e-11, max_step=radius / 20)

        def miss(apex):
            run = meniscus(apex)
            if not run.t_events[0].size:
                return math.pi
            return run.y[2, -1] - (math.pi / 2 - theta)

        apex = brentq(miss, 1e-9, 3 / radius)
        r, z, psi = meniscus(apex).y[:, -1]
        return 2 * apex - z - math.sin(psi) / r

    found = []
    for row in rows:
        theta = math.radians(min(row["theta_deg"], 180 - row["theta_deg"]))
        if not 0.1 < theta < 1.5:
            continue
        bond = brentq(lambda b: curvature_at_wall(b, theta), 0.5, 3.38)
        found.append((f"{row['theta_deg']:g} deg", row["bond"] / bond - 1))
    judge("critical Bond number against the meniscus", found, 2e-3)


def check_rest(formulas):
    found = []
    for row in formulas["superheat"]:
        boils = lambda p: coolprop.PropsSI("T", "P", p, "Q", 0, "Water")
        reference = boils(row["pa"] + 998.2 * G * row["depth_mm"] / 1000) - boils(row["pa"])
        found.append((f"{row['pa']:g} Pa", row["k"] / reference - 1))
    judge("superheat of water against CoolProp", found, 0.01)

    found = []
    for row in formulas["benzene_full"]:
        rho = lambda t: coolprop.PropsSI("D", "T", t, "Q", 0, "Benzene")
        cold = 293.15
        gap = lambda t: row["ml"] * rho(cold) / rho(t) - 10 * (1 + 3 * 3.3e-6 * (t - cold))
        reference = brentq(gap, cold, 500) - cold
        found.append((f"{row['ml']} mL", (row["t_c"] - 20) / reference - 1))
    judge("hydraulic-full rise of benzene against CoolProp", found, 0.05)

    found = []
    young, nu = 63e9, 0.20
    for row in formulas["buckling"]:
        t = row["wall_mm"] / 1000
        radius = (row["od_mm"] / 1000 - t) / 2
        length = row["length_mm"] / 1000
        # Donnell's shallow-shell equations, whole numbers of lobes: another theory, close where lobes are many.
        loads = []
        for n in range(2, 40):
            a, b = math.pi * radius / length, n
            bending = young * t**3 / (12 * (1 - nu * nu)) * (a * a + b * b) ** 2 / (radius**3 * b * b)
            membrane = young * t / radius * a**4 / ((a * a + b * b) ** 2 * b * b)
            loads.append(bending + membrane)
        found.append((f"{row['od_mm']:g} x {row['wall_mm']:g}", row["pa"] / min(loads) - 1))
    judge("buckling of a tube against shallow-shell theory", found, 0.15)

    found = []
    kappa = formulas["diffusivity_m2_per_s"]
    for row in formulas["cooling_lag"]:
        wall, rate = row["wall_mm"] / 1000, row["k_per_min"] / 60
        n = 101
        x = np.linspace(0, wall, n)
        step = x[1] - x[0]
        # The steady profile of a slab whose faces cool at a steady rate: kappa T'' = -rate.
        matrix = np.diag(-2 * np.ones(n - 2)) + np.diag(np.ones(n - 3), 1) + np.diag(np.ones(n - 3), -1)
        inside = np.linalg.solve(kappa / step**2 * matrix, -rate * np.ones(n - 2))
        profile = np.concatenate([[0], inside, [0]])
        centre, mean = row["centre_and_mean_k"]
        found.append(("centre", centre / profile.max() - 1))
        found.append(("mean", mean / (np.trapezoid(profile, x) / wall) - 1))
    judge("lag of a cooling wall against finite differences", found, 1e-3)

    found = []
    for row in formulas["molar_masses"]:
        plain = row["formula"].replace("*5H2O", "(H2O)5")
        reference = chemicals.elements.molecular_weight(chemicals.elements.nested_formula_parser(plain))
        found.append((row["formula"], row["g_per_mol"] / reference - 1))
    judge("molar masses of formulas against chemicals", found, 1e-4)


def main():
    table = json.loads((HERE / "physics.json").read_text())
    check_equations(table["liquids"])
    check_chemicals(table["constants"], table["liquids"])
    check_clausing(table["formulas"]["clausing"])
    check_bond(table["formulas"]["critical_bond"])
    check_rest(table["formulas"])
    if failures:
        sys.exit("\n".join(failures))
    print("liquids and formulas agree")


if __name__ == "__main__":
    main()
