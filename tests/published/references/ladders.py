#!/usr/bin/env python3
"""Reference curves from ngspice: a backed sheet as a ladder of resistors and capacitors, and an RC check standard.

Writes sheet_ladder.csv and check_standard.csv beside itself; ./dev test --references runs it. Columns:
  kind    voltage: `at` in s after the release, `value` in V
          crossing: `at` is a fraction, `value` the time in s after the release at which the voltage falls to it
  at, value
"""
import datetime
import math
import pathlib
import re
import subprocess
import tempfile

here = pathlib.Path(__file__).parent
levels = {"0.5": 0.5, "0.36787944117144233": math.exp(-1), "0.1": 0.1, "0.01": 0.01}


def simulate(netlist, nodes, step_s, end_s):
    """Runs ngspice; returns rows of time and node voltages."""
    with tempfile.TemporaryDirectory() as folder:
        out = pathlib.Path(folder, "curve.txt")
        circuit = pathlib.Path(folder, "circuit.cir")
        circuit.write_text(
            "reference\n" + netlist + ".options method=trap reltol=1e-7 abstol=1e-18 vntol=1e-12\n"
            f".tran {step_s!r} {end_s!r} 0 {step_s!r} uic\n"
            ".control\nset numdgt=12\nset wr_singlescale\nrun\n"
            f"wrdata {out} {' '.join(f'v({node})' for node in nodes)}\nquit\n.endc\n.end\n"
        )
        subprocess.run(["ngspice", "-b", circuit], check=True, capture_output=True)
        return [[float(word) for word in line.split()] for line in out.read_text().splitlines()]


def at_time(rows, time_s):
    """Voltage at a time, along the straight line between the steps."""
    for before, after in zip(rows, rows[1:]):
        if before[0] <= time_s <= after[0]:
            part = (time_s - before[0]) / (after[0] - before[0]) if after[0] > before[0] else 1
            return before[1] + part * (after[1] - before[1])
    raise ValueError(f"no sample at {time_s} s")


def falls_to(rows, voltage_V):
    for before, after in zip(rows, rows[1:]):
        if before[1] > voltage_V >= after[1]:
            return before[0] + (before[1] - voltage_V) / (before[1] - after[1]) * (after[0] - before[0])
    raise ValueError(f"never falls to {voltage_V} V")


def write(name, about, rows):
    version = re.search(r"ngspice-[\d.+]+", subprocess.run(["ngspice", "--version"], capture_output=True, text=True).stdout)[0]
    head = [f"{version}, {datetime.date.today().isoformat()}, script {pathlib.Path(__file__).name}"] + about
    with open(here / name, "w", newline="\n") as out:
        out.writelines(f"# {line}\n" for line in head)
        out.write("kind,at,value\n")
        out.writelines(f"{kind},{at},{value:.9g}\n" for kind, at, value in rows)


def sheet():
    """A sheet lying close to an earthed surface, charged evenly to 1 V, both clamps earthed at t = 0; T1 = R c L^2 / pi^2 = 1 s."""
    cells = 201  # odd: one cell lies in the middle
    resistance, capacitance = math.pi**2 * 1e6, 1e-6  # of the whole sheet
    lines = [f"R0 n0 0 {resistance / cells / 2!r}", f"R{cells} n{cells - 1} 0 {resistance / cells / 2!r}"]
    for i in range(cells):
        lines.append(f"C{i} n{i} 0 {capacitance / cells!r} ic=1")
        if i:
            lines.append(f"R{i} n{i - 1} n{i} {resistance / cells!r}")
    # ngspice writes no row for t = 0, where every cell is at 1 V.
    rows = [[0.0, 1.0]] + simulate("\n".join(lines) + "\n", [f"n{cells // 2}"], 1e-3, 6.01)

    # Against the plane-wall series, in Fo = t / (R c (L/2)^2), that is t / T1 = Fo * pi^2 / 4 (any heat-transfer handbook).
    fourier = {"0.5": 0.37875, "0.36787944117144233": 0.50318, "0.1": 1.03110, "0.01": 1.96431}
    crossings = {text: falls_to(rows, level) for text, level in levels.items()}
    worst = max(abs(crossings[text] / (fourier[text] * math.pi**2 / 4) - 1) for text in levels)
    assert worst < 1e-4, f"the ladder and the series differ by {worst:.1e}"
    write(
        "sheet_ladder.csv",
        [
            f"backed sheet of {cells} cells, uniform 1 V at t = 0, both ends earthed, T1 = 1 s; voltage of the middle cell",
            f"the ladder's first mode is slower than the sheet's by pi^2/(12 n^2) = {math.pi**2 / 12 / cells**2:.1e}",
            f"largest difference of a crossing from the plane-wall series (five digits of Fo): {worst:.1e}",
        ],
        [("voltage", f"{i / 100:.2f}", at_time(rows, i / 100)) for i in range(601)]
        + [("crossing", text, time_s) for text, time_s in crossings.items()],
    )


def check_standard():
    """Plate to the clamps through 1 Mohm and 2 pF, to earth through 100 pF and 3 pF of stray; clamps at 1 V, earthed at t = 0."""
    lead = 1e-6  # the clamps are earthed this long after the start of the simulation, within 1 ns
    netlist = (
        f"V1 clamp 0 pwl(0 1 {lead!r} 1 {lead + 1e-9!r} 0)\n"
        "R1 clamp plate 1e6\nCc clamp plate 2e-12 ic=0\nC1 plate 0 100e-12 ic=1\nCs plate 0 3e-12 ic=1\n"
    )
    rows = [[time - lead, plate] for time, plate in simulate(netlist, ["plate"], 2e-8, 6.4e-4)]
    total_F, drop = 105e-12, 2 / 105
    crossings = {text: falls_to(rows, level) for text, level in levels.items()}
    worst = max(abs(crossings[text] / (1e6 * total_F * math.log((1 - drop) / level)) - 1) for text, level in levels.items())
    assert worst < 1e-4, f"the circuit and its closed form differ by {worst:.1e}"
    write(
        "check_standard.csv",
        [
            "RC check standard: 1 Mohm and 2 pF to the clamps, 100 pF and 3 pF to earth; clamps from 1 V to earth at t = 0; voltage of the plate",
            "fractions are of the voltage before the release, so a crossing lies at R C ln((1 - drop)/p), C = 105 pF, drop = 2/105",
            f"largest difference of a crossing from that closed form: {worst:.1e}",
        ],
        [("voltage", f"{i}e-6", at_time(rows, i * 1e-6)) for i in range(5, 600, 5)]
        + [("crossing", text, time_s) for text, time_s in crossings.items()],
    )


def absorbing_sheet():
    """A backed sheet with all that is linear: contacts, a leak, two Debye terms, a source that rises and clamps that fall slowly."""
    cells, hold_s, rise_s, fall_s = 100, 2.0, 0.05, 0.02
    resistance, capacitance = math.pi**2 * 1e6, 1e-6  # of the whole sheet: T1 = 1 s
    lead = 0.01  # the source is switched on this long after the start of the simulation, which takes no delay of 0
    contacts, leak = (0.05 * resistance, 0.02 * resistance), 0.2e-6
    terms = [(0.3e-6, 0.1), (0.2e-6, 1.5)]  # capacitance, relaxation time
    each = resistance / cells
    lines = [f"V1 clamp 0 exp(0 1 {lead!r} {rise_s!r} {lead + hold_s!r} {fall_s!r})"]
    lines += [f"Rl clamp n0 {contacts[0] + each / 2!r}", f"Rr clamp n{cells - 1} {contacts[1] + each / 2!r}"]
    for i in range(cells):
        lines += [f"C{i} n{i} 0 {capacitance / cells!r} ic=0", f"Rg{i} n{i} 0 {cells / leak!r}"]
        for k, (term, relaxation_s) in enumerate(terms):
            lines += [f"Rd{k}x{i} n{i} d{k}x{i} {relaxation_s * cells / term!r}", f"Cd{k}x{i} d{k}x{i} 0 {term / cells!r} ic=0"]
        if i:
            lines.append(f"R{i} n{i - 1} n{i} {each!r}")
    strips = [0, 9, 49, 94]
    rows = simulate("\n".join(lines) + "\n", [f"n{i}" for i in strips], 5e-4, 6.02)
    times = [i / 20 for i in range(2, 121)]
    write(
        "sheet_absorption_ladder.csv",
        [
            f"backed sheet of {cells} strips, from empty; source 1 V with a rise of {rise_s} s, held {hold_s} s, then falling with {fall_s} s",
            "sheet: 1e6 pi^2 ohm, 1e-6 F, leak 0.2e-6 S, Debye terms 0.3e-6 F, 0.1 s and 0.2e-6 F, 1.5 s; contacts 0.05 (left) and 0.02 of its resistance",
            "kind: potential of that strip; at: time in s from the start of the charging",
        ],
        [(f"strip {strip}", f"{t:.2f}", at_time([[row[0] - lead, row[k + 1]] for row in rows], t)) for k, strip in enumerate(strips) for t in times],
    )



def field_dependent_sheet():
    """A backed sheet whose resistivity falls with the field, R exp(-beta sqrt|E|), with a poor contact, a leak and a Debye term."""
    cells, length_m, beta = 60, 0.0762, 3e-3
    hold_s, rise_s, fall_s, lead = 0.2, 0.005, 0.002, 0.001
    scale = 1e6  # of all currents and capacitances, which leaves the voltages and suits the simulator
    strip = length_m / cells
    resistivity, capacitance = 1e11 / scale, 1e-9 * strip * scale
    leak, contact = 1e-9 * strip * scale, 5e8 / scale
    term, relaxation_s = 5e-10 * strip * scale, 0.03
    root_of_nothing = 1e-9  # V: the slope of sqrt|V| must not be infinite where there is no field

    def along(name, a, b, over_m):
        voltage = f"v({a},{b})"
        return f"B{name} {a} {b} I={voltage}*{1 / (resistivity * over_m)!r}*exp({beta!r}*sqrt((abs({voltage})+{root_of_nothing})/{over_m!r}))"

    lines = [f"V1 clamp 0 exp(0 5000 {lead!r} {rise_s!r} {lead + hold_s!r} {fall_s!r})"]
    lines += [f"Rl clamp left {contact!r}", along("l", "left", "n0", strip / 2), along("r", "clamp", f"n{cells - 1}", strip / 2)]
    for i in range(cells):
        lines += [f"C{i} n{i} 0 {capacitance!r} ic=0", f"Rg{i} n{i} 0 {1 / leak!r}"]
        lines += [f"Rd{i} n{i} d{i} {relaxation_s / term!r}", f"Cd{i} d{i} 0 {term!r} ic=0"]
        if i:
            lines.append(along(i, f"n{i - 1}", f"n{i}", strip))
    strips = [0, 9, 29, 56]
    rows = simulate("\n".join(lines) + "\n", [f"n{i}" for i in strips], 5e-5, 0.402 + lead)
    times = [i / 200 for i in range(1, 81)]
    write(
        "sheet_field_ladder.csv",
        [
            f"backed sheet of {cells} strips, {length_m} m, 1e11 ohm exp(-{beta} sqrt|E|), 1e-9 F/m2, leak 1e-9 S/m2, Debye term 5e-10 F/m2, {relaxation_s} s; left contact 5e8 ohm m",
            f"from empty; source 5000 V with a rise of {rise_s} s, held {hold_s} s, then falling with {fall_s} s",
            "kind: potential of that strip; at: time in s from the start of the charging",
        ],
        [(f"strip {strip_}", f"{t:.3f}", at_time([[row[0] - lead, row[k + 1]] for row in rows], t)) for k, strip_ in enumerate(strips) for t in times],
    )


sheet()
check_standard()
absorbing_sheet()
field_dependent_sheet()
