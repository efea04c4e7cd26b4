#include "fit/projection.hpp"

#include <Eigen/Dense>
#include <cmath>
#include <limits>

namespace ebbtide::fit {
namespace {

/// A column whose part beside the others is smaller than this share of it says nothing new. The columns
/// themselves are rounded to 1e-16, so the residual is then uncertain by 1e-8 of y, and a sum of squares
/// cannot be compared.
constexpr double dependent = 1e-8;

bool independent(const Eigen::Ref<const Eigen::MatrixXd, 0, Eigen::OuterStride<>>& triangle,
                 Eigen::Index columns) {
    for (Eigen::Index k = 0; k < columns; ++k)
        if (!(std::abs(triangle(k, k)) > dependent * triangle.col(k).head(k + 1).norm())) return false;
    return true;
}

/// [free columns | slopes | y less the held columns] in a triangle of their own.
Small without_held(const Small& triangle, std::size_t columns, const HeldAmplitudes& held) {
    Eigen::MatrixXd rows(triangle.rows(), triangle.cols());
    Eigen::Index width = 0;
    Eigen::VectorXd y = triangle.col(triangle.cols() - 1);
    for (std::size_t j = 0; j < columns; ++j) {
        const auto column = triangle.col(static_cast<Eigen::Index>(j));
        if (held[j])
            y -= *held[j] * column;
        else
            rows.col(width++) = column;
    }
    for (Eigen::Index j = static_cast<Eigen::Index>(columns); j + 1 < triangle.cols(); ++j)
        rows.col(width++) = triangle.col(j);
    rows.col(width++) = y;
    Small out = Small::Zero(width, width);
    absorb(out, rows.leftCols(width));
    return out;
}

}  // namespace

Projection project_about(const Law& law, const Small& all, const SmallVector& about,
                         const HeldAmplitudes& held) {
    Projection out;
    out.rss = std::numeric_limits<double>::infinity();
    const std::size_t columns = law.amplitudes.size();
    const auto shapes = static_cast<Eigen::Index>(law.shape.size());
    const auto sloped = static_cast<Eigen::Index>(law.slopes.size());
    if (!all.allFinite()) return out;

    // Held amplitudes are meant absolutely; the triangle counts from `about`.
    HeldAmplitudes from_about = held;
    for (std::size_t j = 0; j < held.size(); ++j)
        if (held[j]) from_about[j] = *held[j] - about(static_cast<Eigen::Index>(j));
    const Small triangle = held.empty() ? all : without_held(all, columns, from_about);

    const Eigen::Index free = triangle.cols() - sloped - 1;
    const Eigen::Index last = triangle.cols() - 1;
    if (!independent(triangle, free)) return out;
    const SmallVector solved = triangle.topLeftCorner(free, free)
                                   .triangularView<Eigen::Upper>()
                                   .solve(triangle.col(last).head(free));
    out.amplitude.resize(static_cast<Eigen::Index>(columns));
    Eigen::Index next = 0;
    for (std::size_t j = 0; j < columns; ++j) {
        const auto column = static_cast<Eigen::Index>(j);
        out.amplitude(column) = !held.empty() && held[j] ? *held[j] : about(column) + solved(next++);
    }

    Small gather = Small::Zero(sloped, shapes);
    for (std::size_t s = 0; s < law.slopes.size(); ++s)
        gather(static_cast<Eigen::Index>(s), static_cast<Eigen::Index>(law.slopes[s].parameter)) =
            out.amplitude(static_cast<Eigen::Index>(law.slopes[s].column));
    out.residual = triangle.col(last).tail(last + 1 - free);
    out.jacobian = Small::Zero(last + 1 - free, shapes);
    out.jacobian.topRows(sloped) =
        triangle.block(free, free, sloped, sloped).triangularView<Eigen::Upper>() * gather;
    out.rss = out.residual.squaredNorm();
    out.y_length = triangle.col(last).norm();

    Eigen::MatrixXd rows = Eigen::MatrixXd::Zero(last, free + shapes);
    rows.leftCols(free) = triangle.topLeftCorner(last, free);
    rows.rightCols(shapes) = triangle.block(0, free, last, sloped) * gather;
    out.full_triangle = Small::Zero(free + shapes, free + shapes);
    absorb(out.full_triangle, rows);
    out.usable = std::isfinite(out.rss) && out.amplitude.allFinite() && out.jacobian.allFinite();
    return out;
}

Projection project(const Law& law, const Small& triangle, const HeldAmplitudes& held) {
    return project_about(law, triangle, SmallVector::Zero(static_cast<Eigen::Index>(law.amplitudes.size())),
                         held);
}

double projected_rss(const Small& triangle) {
    const Eigen::Index last = triangle.cols() - 1;
    if (!triangle.allFinite() || !independent(triangle, last)) return std::numeric_limits<double>::infinity();
    return triangle(last, last) * triangle(last, last);
}

}  // namespace ebbtide::fit
