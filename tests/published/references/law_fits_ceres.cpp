// Five hundred of the random decays, all longer ones among them, each fitted by Ceres from 50 starts: the
// lowest sum of squares.
//
// Writes law_fits_ceres.csv beside itself (or to the file named): law, trial, samples, sum of y, lowest sum
// of squares. Built and run by ./dev test --references only. All parameters are searched for at once, shape
// parameters by their logarithm, slopes in closed form.

#include <ceres/ceres.h>

#include <Eigen/Dense>
#include <cstdio>
#include <fstream>
#include <limits>
#include <numeric>

#include "random_decay.hpp"

namespace {

using ebbtide::references::RandomDecay;
constexpr int starts = 50;
constexpr int some_short_trials = 80;

/// Residuals over p: logarithms of the shape parameters, then amplitudes, then the offset.
class Residuals : public ceres::CostFunction {
  public:
    explicit Residuals(const RandomDecay& decay)
        : decay_(decay), columns_(decay.law >= 3 ? 1 : decay.shapes) {
        set_num_residuals(static_cast<int>(decay.x.size()));
        mutable_parameter_block_sizes()->push_back(parameters());
    }

    int parameters() const { return static_cast<int>(decay_.shapes + linear()); }
    std::size_t linear() const { return columns_ + (decay_.offset ? 1 : 0); }

    bool Evaluate(const double* const* blocks, double* residuals, double** jacobians) const override {
        const double* const p = blocks[0];
        const double* const amplitude = p + decay_.shapes;
        double* slope = jacobians && jacobians[0] ? jacobians[0] : nullptr;
        std::vector<double> row(static_cast<std::size_t>(parameters()));
        for (std::size_t i = 0; i < decay_.x.size(); ++i) {
            fill(decay_.x[i], p, row.data());
            residuals[i] = -decay_.y[i];
            for (std::size_t j = 0; j < linear(); ++j) residuals[i] += amplitude[j] * row[decay_.shapes + j];
            if (slope) slope = std::copy(row.begin(), row.end(), slope);
        }
        return std::isfinite(std::accumulate(residuals, residuals + decay_.x.size(), 0.0));
    }

    /// Slopes of the curve at x by every parameter; those by the amplitudes are the columns of the linear
    /// fit.
    void fill(double x, const double* p, double* row) const {
        const double* const amplitude = p + decay_.shapes;
        double* const column = row + decay_.shapes;
        if (decay_.offset) column[columns_] = 1;
        if (decay_.law == 3) {
            const double exponent = std::exp(p[1]);
            const double z = x > 0 ? std::exp(exponent * (std::log(x) - p[0])) : 0;
            column[0] = std::exp(-z);
            row[0] = amplitude[0] * column[0] * exponent * z;
            row[1] = x > 0 ? -amplitude[0] * column[0] * exponent * z * (std::log(x) - p[0]) : 0;
        } else if (decay_.law == 4) {
            const double power = std::exp(p[1]), ratio = x / std::exp(p[0]);
            column[0] = std::exp(-power * std::log1p(ratio));
            row[0] = amplitude[0] * column[0] * power * ratio / (1 + ratio);
            row[1] = -amplitude[0] * column[0] * power * std::log1p(ratio);
        } else {
            for (std::size_t k = 0; k < decay_.shapes; ++k) {
                const double ratio = x / std::exp(p[k]);
                column[k] = std::exp(-ratio);
                row[k] = amplitude[k] * column[k] * ratio;
            }
        }
    }

    /// The best amplitudes for the shape parameters at the head of p, written behind them.
    void solve_linear(std::vector<double>& p) const {
        const auto n = static_cast<Eigen::Index>(decay_.x.size()), m = static_cast<Eigen::Index>(linear());
        Eigen::MatrixXd columns(n, m);
        std::vector<double> row(p.size());
        for (Eigen::Index i = 0; i < n; ++i) {
            fill(decay_.x[static_cast<std::size_t>(i)], p.data(), row.data());
            for (Eigen::Index j = 0; j < m; ++j)
                columns(i, j) = row[decay_.shapes + static_cast<std::size_t>(j)];
        }
        const Eigen::Map<const Eigen::VectorXd> y(decay_.y.data(), n);
        const Eigen::VectorXd found = columns.completeOrthogonalDecomposition().solve(y);
        std::copy(found.begin(), found.end(), p.begin() + static_cast<std::ptrdiff_t>(decay_.shapes));
    }

  private:
    const RandomDecay& decay_;
    std::size_t columns_;
};

double lowest(const RandomDecay& decay, ebbtide::references::Numbers& numbers) {
    double best = std::numeric_limits<double>::infinity();
    for (int start = 0; start < starts; ++start) {
        auto* const residuals = new Residuals(decay);  // owned by the problem
        std::vector<double> p(static_cast<std::size_t>(residuals->parameters()));
        for (std::size_t k = 0; k < decay.shapes; ++k)
            p[k] = std::log(decay.law >= 3 && k == 1 ? numbers.between(0.2, 3) : numbers.between(1e-3, 10));
        std::sort(p.begin(), p.begin() + static_cast<std::ptrdiff_t>(decay.law < 3 ? decay.shapes : 0));
        residuals->solve_linear(p);
        ceres::Problem problem;
        problem.AddResidualBlock(residuals, nullptr, p.data());
        ceres::Solver::Options options;
        options.linear_solver_type = ceres::DENSE_QR;
        options.max_num_iterations = 300;
        options.function_tolerance = 1e-14;
        options.parameter_tolerance = 1e-12;
        options.gradient_tolerance = 1e-14;
        options.logging_type = ceres::SILENT;
        ceres::Solver::Summary summary;
        ceres::Solve(options, &problem, &summary);
        bool inside = summary.IsSolutionUsable();
        // Beyond what the product searches, a start may run away to constants that no sample can see.
        for (std::size_t k = 0; k < decay.shapes; ++k)
            inside = inside && p[k] > std::log(1e-6) && p[k] < std::log(3e4);
        if (inside) best = std::min(best, 2 * summary.final_cost);
    }
    return best;
}

}  // namespace

int main(int count, char** words) {
    using namespace ebbtide::references;
    google::InitGoogleLogging(words[0]);
    const std::string source = __FILE__;
    const std::string path =
        count > 1 ? words[1] : source.substr(0, source.find_last_of('/') + 1) + "law_fits_ceres.csv";
    std::ofstream out(path);
    out << "# Ceres " CERES_VERSION_STRING ", Eigen " << EIGEN_WORLD_VERSION << '.' << EIGEN_MAJOR_VERSION
        << '.' << EIGEN_MINOR_VERSION
        << ", g++ " __VERSION__ ", tests/published/references/law_fits_ceres.cpp\n"
        << "# law,trial,samples,sum_of_y,lowest_rss\n";
    Numbers numbers(seed_base + 500);
    char text[128];
    for (std::size_t law = 0; law < laws.size(); ++law)
        for (int trial = 0; trial < all_trials; ++trial) {
            if (trial >= some_short_trials && trial < short_trials) continue;
            const RandomDecay decay = random_decay(law, trial);
            const double sum = std::accumulate(decay.y.begin(), decay.y.end(), 0.0);
            std::snprintf(text, sizeof text, "%d,%zu,%.15g,%.17g\n", trial, decay.x.size(), sum,
                          lowest(decay, numbers));
            out << laws[law] << ',' << text << std::flush;
        }
    return out ? 0 : 1;
}
