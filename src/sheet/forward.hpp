#pragma once
// Charge on a sheet through time: charged through its clamps, which are then earthed. The physics behind a
// decay time, for simulating a bench and for inferring a material.
//
//     dq/dt = d/dx( (1/R_s) dV/dx ) - g V - absorption,   V by the fixture's electrostatics (cut_sheet.hpp)
//
// One-dimensional: everything is alike along the clamps and counts for a metre of their width.

#include <cstddef>
#include <optional>
#include <span>
#include <vector>

#include "basis/result.hpp"
#include "sheet/cut_sheet.hpp"

namespace ebbtide::sheet {

/// One Debye term of dielectric absorption: a capacitance to earth that takes its charge through a resistance
/// of its own, with the time constant `relaxation_s` while the sheet's potential is held. Both above 0.
struct Absorption {
    double capacitance_F_m2 = 0;
    double relaxation_s = 0;
};

struct Material {
    double surface_resistivity_ohm_sq = 0;  ///< R_0, without field; above 0
    /// beta of R_s(E) = R_0 exp(-beta sqrt|E|), in (m/V)^(1/2), at least 0; E along the sheet, the same for
    /// both directions. Poole-Frenkel form (Frenkel, Physical Review 54 (1938) 647; from memory).
    double field_coefficient = 0;
    double leak_S_m2 = 0;  ///< g: to earth, at least 0
    std::vector<Absorption> absorption = {};
};

/// Part of the clamps' voltage that falls as exp(-t / time_constant_s) from the release. A time constant of 0
/// is gone at once; infinity stays.
struct Fall {
    double part = 1;  ///< above 0 to 1
    double time_constant_s = 0;
};

struct Clamps {
    double voltage_V = 0;           ///< of the source, not 0
    double left_contact_ohm_m = 0;  ///< resistance times width between clamp and sheet, at least 0
    double right_contact_ohm_m = 0;
    /// From the empty sheet to the release, above 0. None: held until nothing changed any more.
    std::optional<double> hold_s = {};
    double rise_s = 0;  ///< time constant of the source when it is switched on
    /// After the release; parts add up to 1. Earthed through a forgotten resistor: {{1, R C}}, with C of
    /// source and cable, which is to be much more than the sheet's.
    std::vector<Fall> fall = {{}};
};

enum class Method {
    best,     ///< modes where the sheet is linear and they are at hand; otherwise steps
    stepped,  ///< steps, for comparison
};

struct Options {
    Method method = Method::best;
    /// Of steps: error of a potential that a step may add, over the clamps' voltage; 1e-12 to 0.1.
    double tolerance = 1e-6;
    bool profiles = false;  ///< potential and charge over the sheet too
};

/// Along the times asked. At 0 the release has happened: what is gone at once has gone.
struct Course {
    std::vector<double> clamp_V;
    std::vector<double> sensed_V;  ///< in volts of the sheet (cut_sheet.hpp); what clamps induce is included
    std::vector<double> charge_C_m;          ///< on the whole sheet, absorbed charge included
    std::vector<double> through_clamps_C_m;  ///< out of the sheet since the release; before it what is to
                                             ///< come, negative of what has yet to flow
    std::vector<double> leaked_C_m;          ///< likewise
    std::vector<std::vector<double>> potential_V;  ///< [time][strip]; empty unless profiles are asked
    std::vector<std::vector<double>> charge_C_m2;  ///< likewise, absorbed charge included
    std::size_t steps = 0;                         ///< taken; 0 by modes
};

/// `times_s` from the release, ascending, finite; none before the charging of a sheet that is not held for
/// long. Charge is conserved to 1e-9 of what the sheet can hold: what it holds at 0 less what it holds at t
/// is what went through the clamps and what leaked.
///
/// By modes (linear sheet; no absorption when it hangs): exact in time, in closed form for a backed sheet.
/// Left to steps where absorption or contacts are 1e9 times faster or slower than the sheet. One sheet asked
/// for many resistivities: prepared_sheet.hpp. By steps:
/// Rosenbrock method of order 4(3), L-stable, step size by its error estimate, values between steps by a
/// cubic. Results repeat bit for bit.
///
/// Bad input: any figure outside its range. Internal: steps that find no size small enough.
[[nodiscard]] Result<Course> simulate(const CutSheet& sheet, const Material& material, const Clamps& clamps,
                                      std::span<const double> times_s, const Options& options = {});

/// Sheets cut alike, each of its own material between its own clamps, at the same times: what `simulate`
/// answers for each, within its tolerance. Backed sheets that need steps are followed four at a time, in
/// little more time than one, where all are charged for as long and have as many terms of absorption; they
/// take the same steps, as small as any of them needs. All others one after another.
///
/// Bad input: as `simulate`; not as many materials as clamps.
[[nodiscard]] Result<std::vector<Course>> simulate_all(const CutSheet& sheet,
                                                       std::span<const Material> materials,
                                                       std::span<const Clamps> clamps,
                                                       std::span<const double> times_s,
                                                       const Options& options = {});

}  // namespace ebbtide::sheet
