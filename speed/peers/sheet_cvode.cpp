// A backed sheet of 200 strips by CVODE: PROGRAM BETA. For each line on standard input the sheet of
// sheet_row.cpp falls once; the answer is "SECONDS SUM", the sum of its middle's potentials over the start.
// PROGRAM invert: seeks resistivity and field coefficient of inversion_row.cpp's fall instead; the sum is
// that of the two over the truth.
//
// Method of lines, backward differentiation, banded Newton iteration with differences for the Jacobian, as
// CVODE's own examples of diffusion do. Tolerances are the loosest whose readings are right to 1e-4 of the
// start.

#include <cvode/cvode.h>
#include <nvector/nvector_serial.h>
#include <sunlinsol/sunlinsol_band.h>
#include <sunmatrix/sunmatrix_band.h>

#include <array>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <string_view>

namespace {

constexpr int strips = 200, times = 60;
constexpr double length_m = 0.0762, true_resistivity_ohm_sq = 1e11, capacitance_F_m2 = 1e-9, start_V = 5000;
constexpr double strip_m = length_m / strips;
double beta = 0, resistivity_ohm_sq = true_resistivity_ohm_sq;
using Readings = std::array<double, times>;

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

/// Of the middle over the start, at tenths of the true sheet's T1 without field.
Readings fall(SUNContext context, double relative) {
    N_Vector y = N_VNew_Serial(strips, context);
    N_VConst(start_V, y);
    void* solver = CVodeCreate(CV_BDF, context);
    CVodeInit(solver, rates, 0, y);
    CVodeSStolerances(solver, relative, relative * start_V);
    CVodeSetMaxNumSteps(solver, 100'000);
    SUNMatrix matrix = SUNBandMatrix(strips, 1, 1, context);
    SUNLinearSolver linear = SUNLinSol_Band(y, matrix, context);
    CVodeSetLinearSolver(solver, linear, matrix);
    const double pi = std::acos(-1.0);
    const double T1_s = true_resistivity_ohm_sq * capacitance_F_m2 * length_m * length_m / (pi * pi);
    Readings out{};
    for (int i = 1; i <= times; ++i) {
        realtype reached = 0;
        if (CVode(solver, 0.1 * i * T1_s, y, &reached, CV_NORMAL) < 0) std::exit(1);
        const realtype* V = N_VGetArrayPointer(y);
        const double middle =
            (9 * (V[strips / 2 - 1] + V[strips / 2]) - V[strips / 2 - 2] - V[strips / 2 + 1]) / 16;
        out[i - 1] = middle / start_V;
    }
    CVodeFree(&solver);
    SUNLinSolFree(linear);
    SUNMatDestroy(matrix);
    N_VDestroy(y);
    return out;
}

double sum_of(const Readings& readings) {
    double sum = 0;
    for (const double v : readings) sum += v;
    return sum;
}

/// What the sensor saw: the truth, and a thousandth of noise that both contenders know how to draw.
Readings seen(SUNContext context) {
    resistivity_ohm_sq = true_resistivity_ohm_sq;
    beta = 2e-3;
    Readings out = fall(context, 1e-8);
    for (int i = 0; i < times; ++i) out[i] += 1e-3 * std::sin(0.7 * i * i);
    return out;
}

/// Gauss and Newton from a start that is off by 1.4 and by 2; the amplitude is free. Differences of 1 %.
double invert(SUNContext context, const Readings& y) {
    double log_R = std::log(1.4 * true_resistivity_ohm_sq), log_beta = std::log(1e-3);
    const auto at = [&](double r, double b) {
        resistivity_ohm_sq = std::exp(r);
        beta = std::exp(b);
        return fall(context, 1e-5);
    };
    double amplitude = 1;
    for (int round = 0; round < 12; ++round) {
        const Readings here = at(log_R, log_beta), steeper = at(log_R, log_beta + 0.01),
                       higher = at(log_R + 0.01, log_beta);
        double N[3][4] = {};  // normal equations of amplitude and both logarithms
        for (int i = 0; i < times; ++i) {
            const double column[4] = {here[i], amplitude * (higher[i] - here[i]) / 0.01,
                                      amplitude * (steeper[i] - here[i]) / 0.01, y[i] - amplitude * here[i]};
            for (int a = 0; a < 3; ++a)
                for (int b = 0; b < 4; ++b) N[a][b] += column[a] * column[b];
        }
        for (int a = 0; a < 3; ++a)
            for (int c = 0; c < 3; ++c) {
                if (c == a) continue;
                const double factor = N[c][a] / N[a][a];
                for (int b = a; b < 4; ++b) N[c][b] -= factor * N[a][b];
            }
        const double step_R = N[1][3] / N[1][1], step_beta = N[2][3] / N[2][2];
        amplitude += N[0][3] / N[0][0];
        log_R += std::fmin(std::fmax(step_R, -0.7), 0.7);
        log_beta += std::fmin(std::fmax(step_beta, -0.7), 0.7);
        if (std::fabs(step_R) < 1e-4 && std::fabs(step_beta) < 1e-4) break;
    }
    return std::exp(log_R) / true_resistivity_ohm_sq + std::exp(log_beta) / 2e-3;
}

double processor_seconds() {
    timespec at{};
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &at);
    return static_cast<double>(at.tv_sec) + static_cast<double>(at.tv_nsec) * 1e-9;
}

}  // namespace

int main(int count, char** words) {
    if (count != 2) return 2;
    const bool inverting = std::string_view(words[1]) == "invert";
    if (!inverting) beta = std::atof(words[1]);
    SUNContext context = nullptr;
    SUNContext_Create(nullptr, &context);
    const Readings y = inverting ? seen(context) : Readings{};
    char line[16];
    while (std::fgets(line, sizeof line, stdin)) {
        const int repeats = inverting ? 2 : 20;
        const double began = processor_seconds();
        double sum = 0;
        for (int i = 0; i < repeats; ++i)
            sum = inverting ? invert(context, y) : sum_of(fall(context, beta == 0 ? 5e-5 : 1e-5));
        std::printf("%.12f %.17g\n", (processor_seconds() - began) / repeats, sum);
        std::fflush(stdout);
    }
    SUNContext_Free(&context);
}
