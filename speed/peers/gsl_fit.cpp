// Fits by GSL's nonlinear least squares (Levenberg-Marquardt, slopes in closed form). A program of its own:
// GSL is under the GPL and is linked to nothing else here.

#include <gsl/gsl_multifit_nlinear.h>

#include "turns.hpp"

namespace {

using namespace ebbtide::speed;

template <class Law>
struct Task {
    Law* law;
    const double* y;
    Array residual;
};

template <class Law>
int residuals(const gsl_vector* p, void* task, gsl_vector* out) {
    auto& [law, y, unused] = *static_cast<Task<Law>*>(task);
    (*law)(p->data, y, out->data, static_cast<Eigen::MatrixXd*>(nullptr));
    return GSL_SUCCESS;
}

template <class Law>
int slopes(const gsl_vector* p, void* task, gsl_matrix* out) {
    using Slopes = Eigen::Map<Eigen::Matrix<double, Eigen::Dynamic, Law::parameters, Eigen::RowMajor>>;
    auto& [law, y, residual] = *static_cast<Task<Law>*>(task);
    Slopes map(out->data, law->size(), Law::parameters);
    (*law)(p->data, y, residual.data(), &map);
    return GSL_SUCCESS;
}

template <class Law>
struct Gsl {
    gsl_multifit_nlinear_workspace* space = nullptr;
    Task<Law> task{};

    double operator()(Law& law, const double* start, const double* y) {
        const auto samples = static_cast<std::size_t>(law.size());
        if (!space) {
            gsl_multifit_nlinear_parameters parameters = gsl_multifit_nlinear_default_parameters();
            space =
                gsl_multifit_nlinear_alloc(gsl_multifit_nlinear_trust, &parameters, samples, Law::parameters);
            task.residual.resize(law.size());
        }
        task.law = &law;
        task.y = y;
        gsl_multifit_nlinear_fdf system{};
        system.f = residuals<Law>;
        system.df = slopes<Law>;
        system.n = samples;
        system.p = Law::parameters;
        system.params = &task;
        const gsl_vector_const_view p = gsl_vector_const_view_array(start, Law::parameters);
        gsl_multifit_nlinear_init(&p.vector, &system, space);
        int why = 0;
        gsl_multifit_nlinear_driver(100, 1e-8, 1e-10, 1e-10, nullptr, nullptr, &why, space);
        return Eigen::Map<const Eigen::VectorXd>(gsl_multifit_nlinear_residual(space)->data, law.size())
            .squaredNorm();
    }
};

}  // namespace

int main(int count, char** words) {
    gsl_set_error_handler_off();
    return serve<Gsl>(count, words);
}
