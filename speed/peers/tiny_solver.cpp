// Fits by the TinySolver of Ceres. Built twice: as Debian would, and for the machine it runs on.

#include <ceres/tiny_solver.h>

#include "turns.hpp"

namespace {

using namespace ebbtide::speed;

template <class Law>
struct Function {
    using Scalar = double;
    enum { NUM_RESIDUALS = Eigen::Dynamic, NUM_PARAMETERS = Law::parameters };
    Law* law = nullptr;
    const double* y = nullptr;
    int samples = 0;

    int NumResiduals() const { return samples; }
    bool operator()(const double* p, double* residuals, double* jacobian) const {
        using Slopes = Eigen::Map<Eigen::Matrix<double, Eigen::Dynamic, Law::parameters>>;
        Slopes slopes(jacobian, samples, Law::parameters);
        (*law)(p, y, residuals, jacobian ? &slopes : nullptr);
        return true;
    }
};

template <class Law>
struct TinySolver {
    ceres::TinySolver<Function<Law>> solver;

    double operator()(Law& law, const double* start, const double* y) {
        Eigen::Matrix<double, Law::parameters, 1> p = Eigen::Map<const decltype(p)>(start);
        solver.Solve({&law, y, static_cast<int>(law.size())}, &p);
        return 2 * solver.summary.final_cost;
    }
};

}  // namespace

int main(int count, char** words) {
    return serve<TinySolver>(count, words);
}
