// Backed sheets whose surface resistivity falls with the field along them, R_s(E) = R_0 exp(-beta sqrt|E|),
// by CVODE: method of lines, backward differentiation, banded Newton iteration.
//
// Writes sheet_cvode.csv beside itself (or to the file named): case, strips, strip, time in s, potential in
// V. Built and run by ./dev test --references only. Time counts from the release. Both sheets: 0.0762 m, 1e11
// ohm, 1e-9 F/m2, 5000 V. Case "fall": long charged, clamps earthed at once, beta 2e-3 (m/V)^(1/2). Case
// "whole": from empty, source with a rise of 0.005 s, 0.15 s of hold, then a fall with 0.002 s; beta 4e-3,
// contacts of 3e8 (left) and 1e9 ohm m.

#include <cvode/cvode.h>
#include <nvector/nvector_serial.h>
#include <sundials/sundials_types.h>
#include <sunlinsol/sunlinsol_band.h>
#include <sunmatrix/sunmatrix_band.h>

#include <cmath>
#include <cstdio>
#include <string>
#include <vector>

namespace {

struct Sheet {
    int strips = 200;
    double length_m = 0.0762, resistivity_ohm_sq = 1e11, capacitance_F_m2 = 1e-9, beta = 0;
    double left_ohm_m = 0, right_ohm_m = 0;
    double hold_s = 0, rise_s = 0, fall_s = 0;  // no hold: long charged, earthed at once

    double clamp_V(double t) const {
        const double source = 5000 * (1 - std::exp(-(t + hold_s) / rise_s));
        if (hold_s == 0) return 0;
        return t < 0 ? source : 5000 * (1 - std::exp(-hold_s / rise_s)) * std::exp(-t / fall_s);
    }
    double along(double field) const {
        return field * std::exp(beta * std::sqrt(std::abs(field))) / resistivity_ohm_sq;
    }
    // Half a strip and a contact in series: the field is found by halving an interval.
    double contact(double across_V, double ohm_m) const {
        const double half_m = length_m / strips / 2, all = std::abs(across_V);
        double low = 0, high = all / half_m;
        for (int i = 0; i < 200 && ohm_m > 0; ++i) {
            const double middle = (low + high) / 2;
            (middle * half_m + ohm_m * along(middle) > all ? high : low) = middle;
        }
        return std::copysign(along(high), across_V);
    }
};

int rates(realtype t, N_Vector y, N_Vector out, void* data) {
    const auto& sheet = *static_cast<const Sheet*>(data);
    const realtype* V = N_VGetArrayPointer(y);
    realtype* dV = N_VGetArrayPointer(out);
    const double strip_m = sheet.length_m / sheet.strips, clamp = sheet.clamp_V(t);
    double from_left = sheet.contact(clamp - V[0], sheet.left_ohm_m);
    for (int i = 0; i < sheet.strips; ++i) {
        const double to_right = i + 1 < sheet.strips ? sheet.along((V[i] - V[i + 1]) / strip_m)
                                                     : sheet.contact(V[i] - clamp, sheet.right_ohm_m);
        dV[i] = (from_left - to_right) / (strip_m * sheet.capacitance_F_m2);
        from_left = to_right;
    }
    return 0;
}

void run(const Sheet& sheet, const char* name, double start_s, double initial_V,
         const std::vector<double>& times_s, const std::vector<int>& written, std::FILE* out) {
    SUNContext context = nullptr;
    SUNContext_Create(nullptr, &context);
    N_Vector y = N_VNew_Serial(sheet.strips, context);
    N_VConst(initial_V, y);
    void* solver = CVodeCreate(CV_BDF, context);
    CVodeInit(solver, rates, start_s, y);
    CVodeSStolerances(solver, 1e-10, 1e-7);
    CVodeSetUserData(solver, const_cast<Sheet*>(&sheet));
    CVodeSetMaxNumSteps(solver, 1'000'000);
    SUNMatrix matrix = SUNBandMatrix(sheet.strips, 1, 1, context);
    SUNLinearSolver linear = SUNLinSol_Band(y, matrix, context);
    CVodeSetLinearSolver(solver, linear, matrix);
    realtype reached = start_s;
    const auto go_to = [&](double time_s) {
        if (CVode(solver, time_s, y, &reached, CV_NORMAL) < 0) std::exit(1);
    };
    // No step over the kink of the clamps' voltage.
    if (start_s < 0) CVodeSetStopTime(solver, 0);
    for (const double time : times_s) {
        if (start_s < 0 && reached < 0 && time > 0) {
            go_to(0);
            CVodeReInit(solver, 0, y);
            CVodeSetStopTime(solver, 1e9);
        }
        go_to(time);
        for (const int strip : written)
            std::fprintf(out, "%s,%d,%d,%.17g,%.10g\n", name, sheet.strips, strip, time,
                         N_VGetArrayPointer(y)[strip]);
    }
    CVodeFree(&solver);
    SUNLinSolFree(linear);
    SUNMatDestroy(matrix);
    N_VDestroy(y);
    SUNContext_Free(&context);
}

}  // namespace

int main(int count, char** words) {
    const std::string beside = __FILE__;
    const std::string path = count > 1 ? words[1] : beside.substr(0, beside.rfind('.')) + ".csv";
    std::FILE* out = std::fopen(path.c_str(), "w");
    if (!out) return 1;
    std::fprintf(out,
                 "# SUNDIALS %s, CVODE, program sheet_cvode.cpp, relative tolerance 1e-10, absolute 1e-7 V\n",
                 SUNDIALS_VERSION);
    std::fprintf(out, "case,strips,strip,time_s,potential_V\n");
    std::vector<double> fall{1e-5, 3e-5, 1e-4, 3e-4, 1e-3, 2e-3, 5e-3};
    for (int i = 1; i <= 20; ++i) fall.push_back(i * 0.01);
    Sheet sheet;
    sheet.beta = 2e-3;
    run(sheet, "fall", 0, 5000, fall, {0, 20, 100, 180}, out);
    sheet.strips = 1601;  // its middle, for what 200 strips leave
    run(sheet, "fall", 0, 5000, fall, {800}, out);

    Sheet whole{200, 0.0762, 1e11, 1e-9, 4e-3, 3e8, 1e9, 0.15, 0.005, 0.002};
    std::vector<double> times;
    for (int i = 1; i < 15; ++i) times.push_back(-0.15 + i * 0.01);
    for (const double t : {2e-4, 1e-3, 3e-3}) times.push_back(t);
    for (int i = 1; i <= 20; ++i) times.push_back(i * 0.01);
    run(whole, "whole", -0.15, 0, times, {0, 20, 100, 199}, out);
    return std::fclose(out);
}
