// A backed sheet of 200 strips by CVODE: PROGRAM BETA. For each line on standard input the sheet of
// sheet_row.cpp falls once; the answer is "SECONDS SUM", the sum of its middle's potentials over the start.
//
// Method of lines, backward differentiation, banded Newton iteration with differences for the Jacobian, as
// CVODE's own examples of diffusion do. Tolerances are the loosest whose readings are right to 1e-4 of the
// start.

#include <cvode/cvode.h>
#include <nvector/nvector_serial.h>
#include <sunlinsol/sunlinsol_band.h>
#include <sunmatrix/sunmatrix_band.h>

#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <ctime>

namespace {

constexpr int strips = 200, times = 60;
constexpr double length_m = 0.0762, resistivity_ohm_sq = 1e11, capacitance_F_m2 = 1e-9, start_V = 5000;
constexpr double strip_m = length_m / strips;
double beta = 0;

double current(double across_V, double over_m) {
    const double field = across_V / over_m;
    if (beta == 0) return field / resistivity_ohm_sq;
    return field * std::exp(beta * std::sqrt(std::abs(field))) / resistivity_ohm_sq;
}

int rates(realtype /*t*/, N_Vector y, N_Vector out, void* /*data*/) {
    const realtype* V = N_VGetArrayPointer(y);
    realtype* dV = N_VGetArrayPointer(out);
    double from_left = current(-V[0], strip_m / 2);
    for (int i = 0; i < strips; ++i) {
        const double to_right =
            i + 1 < strips ? current(V[i] - V[i + 1], strip_m) : current(V[i], strip_m / 2);
        dV[i] = (from_left - to_right) / (strip_m * capacitance_F_m2);
        from_left = to_right;
    }
    return 0;
}

double fall(SUNContext context) {
    N_Vector y = N_VNew_Serial(strips, context);
    N_VConst(start_V, y);
    void* solver = CVodeCreate(CV_BDF, context);
    CVodeInit(solver, rates, 0, y);
    const double relative = beta == 0 ? 5e-5 : 1e-5;
    CVodeSStolerances(solver, relative, relative * start_V);
    CVodeSetMaxNumSteps(solver, 100'000);
    SUNMatrix matrix = SUNBandMatrix(strips, 1, 1, context);
    SUNLinearSolver linear = SUNLinSol_Band(y, matrix, context);
    CVodeSetLinearSolver(solver, linear, matrix);
    const double pi = std::acos(-1.0);
    const double T1_s = resistivity_ohm_sq * capacitance_F_m2 * length_m * length_m / (pi * pi);
    double sum = 0;
    for (int i = 1; i <= times; ++i) {
        realtype reached = 0;
        if (CVode(solver, 0.1 * i * T1_s, y, &reached, CV_NORMAL) < 0) std::exit(1);
        const realtype* V = N_VGetArrayPointer(y);
        const double middle =
            (9 * (V[strips / 2 - 1] + V[strips / 2]) - V[strips / 2 - 2] - V[strips / 2 + 1]) / 16;
        sum += middle / start_V;
    }
    CVodeFree(&solver);
    SUNLinSolFree(linear);
    SUNMatDestroy(matrix);
    N_VDestroy(y);
    return sum;
}

double processor_seconds() {
    timespec at{};
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &at);
    return static_cast<double>(at.tv_sec) + static_cast<double>(at.tv_nsec) * 1e-9;
}

}  // namespace

int main(int count, char** words) {
    if (count != 2) return 2;
    beta = std::atof(words[1]);
    SUNContext context = nullptr;
    SUNContext_Create(nullptr, &context);
    char line[16];
    while (std::fgets(line, sizeof line, stdin)) {
        constexpr int repeats = 20;
        const double began = processor_seconds();
        double sum = 0;
        for (int i = 0; i < repeats; ++i) sum = fall(context);
        std::printf("%.12f %.17g\n", (processor_seconds() - began) / repeats, sum);
        std::fflush(stdout);
    }
    SUNContext_Free(&context);
}
