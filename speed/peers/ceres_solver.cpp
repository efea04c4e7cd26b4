// Fits by the solver of Ceres, slopes in closed form.

#include <ceres/ceres.h>

#include "turns.hpp"

namespace {

using namespace ebbtide::speed;

template <class Law>
class Function : public ceres::CostFunction {
  public:
    Function(Law& law, const double* y) : law_(law), y_(y) {
        set_num_residuals(static_cast<int>(law.size()));
        mutable_parameter_block_sizes()->push_back(Law::parameters);
    }
    bool Evaluate(const double* const* p, double* residuals, double** jacobians) const override {
        using Slopes = Eigen::Map<Eigen::Matrix<double, Eigen::Dynamic, Law::parameters, Eigen::RowMajor>>;
        double* const jacobian = jacobians ? jacobians[0] : nullptr;
        Slopes slopes(jacobian, law_.size(), Law::parameters);
        law_(p[0], y_, residuals, jacobian ? &slopes : nullptr);
        return true;
    }

  private:
    Law& law_;
    const double* y_;
};

template <class Law>
struct CeresSolver {
    double operator()(Law& law, const double* start, const double* y) {
        std::vector<double> p(start, start + Law::parameters);
        ceres::Problem problem;
        problem.AddResidualBlock(new Function<Law>(law, y), nullptr, p.data());  // owned by the problem
        ceres::Solver::Options options;
        // The quickest for so few unknowns.
        options.linear_solver_type = ceres::DENSE_NORMAL_CHOLESKY;
        // By default it stops 1e-6 of the sum of squares away.
        options.function_tolerance = 1e-9;
        options.logging_type = ceres::SILENT;
        ceres::Solver::Summary summary;
        ceres::Solve(options, &problem, &summary);
        return 2 * summary.final_cost;
    }
};

}  // namespace

int main(int count, char** words) {
    google::InitGoogleLogging(words[0]);
    return serve<CeresSolver>(count, words);
}
