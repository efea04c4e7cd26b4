#include "decay/adequacy_picture.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace ebbtide::decay {
namespace {

constexpr std::size_t most_rows = 128;  // means of as many samples each

/// The band-limited part of a row, a mean of even samples over a span.
struct Mean {
    double variance = 1;  ///< mean of keep^distance over all pairs
    double to_end = 1;    ///< mean of keep^distance to the last sample, or the first
};
Mean mean_of_band(double samples, double span, double correlation) {
    if (samples < 2) return {};
    const double step = span / (samples - 1) / correlation;
    if (step < 1e-4) return {};
    const double keep = std::exp(-step), lost = -std::expm1(-step);
    const double sum = -std::expm1(-step * samples) / lost;  // of keep^0 ... keep^(samples - 1)
    const double pairs = (1 + keep - 2 * keep * sum / samples) / lost;
    return {std::min(1.0, pairs / samples), sum / samples};
}

/// Takes the first `taken` columns of the basis out; returns the parts. Twice is enough for rounding.
Eigen::VectorXd take_out(const Eigen::MatrixXd& basis, Eigen::Index taken, Eigen::VectorXd& column) {
    Eigen::VectorXd along = Eigen::VectorXd::Zero(taken);
    for (int turn = 0; turn < 2; ++turn) {
        const Eigen::VectorXd part = basis.leftCols(taken).transpose() * column;
        column -= basis.leftCols(taken) * part;
        along += part;
    }
    return along;
}

/// Rows of [law | residual]; the way that the law has come by then, and the mean of 1 / sigma.
Picture law_rows(const fit::Law& law, const fit::Fit& fit, const fit::Curve& curve, std::size_t rows,
                 std::vector<double>& covered, std::vector<double>& per_sigma) {
    const std::vector<double> theta = fit.shape(law), amplitude = fit.amplitudes(law);
    const auto columns = static_cast<Eigen::Index>(amplitude.size());
    const auto slopes = static_cast<Eigen::Index>(law.slopes.size());
    const auto parameters = static_cast<Eigen::Index>(fit.parameters.size());
    const Eigen::Map<const Eigen::VectorXd> a(amplitude.data(), columns);
    Picture out;
    out.of_law = parameters;
    out.columns = Rows::Zero(static_cast<Eigen::Index>(rows), parameters + 1);
    double before = 0, travelled = 0;
    for (std::size_t b = 0; b < rows; ++b) {
        const std::size_t first = b * curve.size() / rows, last = (b + 1) * curve.size() / rows;
        const auto count = static_cast<Eigen::Index>(last - first);
        Eigen::MatrixXd phi(count, columns), slope(count, slopes);
        law.evaluate(curve.x.subspan(first, last - first), theta, phi, slope);
        auto row = out.columns.row(static_cast<Eigen::Index>(b));
        double x = 0, value = 0, weights = 0;
        for (Eigen::Index i = 0; i < count; ++i) {
            const std::size_t at = first + static_cast<std::size_t>(i);
            const double weight =
                1 / (static_cast<double>(count) * (curve.sigma.empty() ? 1 : curve.sigma[at]));
            const double y = phi.row(i).dot(a);
            weights += weight;
            row.head(columns) += weight * phi.row(i);
            for (Eigen::Index s = 0; s < slopes; ++s) {
                const fit::Slope& of = law.slopes[static_cast<std::size_t>(s)];
                row(columns + static_cast<Eigen::Index>(of.parameter)) +=
                    weight * amplitude[of.column] * slope(i, s);
            }
            row(parameters) += weight * (curve.y[at] - law.constant - y);
            x += (curve.x[at] - curve.x[first]) / static_cast<double>(count);
            value += y / static_cast<double>(count);
        }
        out.x.push_back(curve.x[first] + x);
        out.span.push_back(curve.x[last - 1] - curve.x[first]);
        out.samples.push_back(static_cast<double>(count));
        if (b > 0) travelled += std::abs(value - before);
        before = value;
        covered.push_back(travelled);
        per_sigma.push_back(weights);
    }
    return out;
}

/// What the recorder's step or rounding may leave, in sigma.
double floor_of(const fit::Curve& curve) {
    double step = std::numeric_limits<double>::infinity(), largest = 0, sigma = 0;
    for (std::size_t i = 0; i < curve.size(); ++i) {
        largest = std::max(largest, std::abs(curve.y[i]));
        sigma = std::max(sigma, curve.sigma.empty() ? 1 : curve.sigma[i]);
        if (i > 0 && curve.y[i] != curve.y[i - 1])
            step = std::min(step, std::abs(curve.y[i] - curve.y[i - 1]));
    }
    return std::max(std::isfinite(step) ? step / std::sqrt(12.0) : 0, 1e-12 * largest) / sigma;
}

/// Columns that say nothing beside those before them are left out, the others made orthonormal: whitened,
/// they are then far from dependent.
Picture independent(const Picture& picture) {
    const Reduced white = reduce(picture.columns, picture.of_law);
    Picture out = picture;
    out.of_law = 0;
    Eigen::Index kept = 0;
    for (Eigen::Index k = 0; k < white.length.size(); ++k) {
        if (!(white.length(k) > 1e-6 * picture.columns.col(k).norm())) continue;
        out.columns.col(kept++) = white.basis.col(k);
        if (k < picture.of_law) out.of_law = kept;
    }
    out.columns.col(kept) = picture.columns.col(picture.columns.cols() - 1);
    out.columns.conservativeResize(Eigen::NoChange, kept + 1);
    return out;
}

}  // namespace

std::optional<Picture> picture_of(const fit::Law& law, const fit::Fit& fit, const fit::Curve& curve) {
    const std::size_t per_row = (curve.size() + most_rows - 1) / most_rows;
    const std::size_t rows = curve.size() / per_row;
    std::vector<double> covered, per_sigma;
    Picture picture = law_rows(law, fit, curve, rows, covered, per_sigma);
    if (!picture.columns.allFinite()) return std::nullopt;
    picture.floor = floor_of(curve);

    // Knots at even distances of a clock that runs half by samples and half by the fall.
    const std::size_t knots = std::clamp<std::size_t>(rows / 5, 3, 16);
    const auto n = static_cast<Eigen::Index>(rows);
    const Eigen::VectorXd residual = picture.columns.col(picture.of_law);
    picture.columns.conservativeResize(Eigen::NoChange,
                                       picture.of_law + static_cast<Eigen::Index>(knots) + 1);
    picture.columns.rightCols(static_cast<Eigen::Index>(knots) + 1).setZero();
    picture.columns.col(picture.columns.cols() - 1) = residual;
    for (Eigen::Index i = 0; i < n; ++i) {
        const auto at = static_cast<std::size_t>(i);
        const double by_samples = static_cast<double>(at) / static_cast<double>(rows - 1);
        const double by_fall = covered.back() > 0 ? covered[at] / covered.back() : by_samples;
        const double place = (by_samples + by_fall) / 2 * static_cast<double>(knots - 1);
        const auto knot = std::min(static_cast<std::size_t>(place), knots - 2);
        const Eigen::Index column = picture.of_law + static_cast<Eigen::Index>(knot);
        picture.columns(i, column) = per_sigma[at] * (static_cast<double>(knot) + 1 - place);
        picture.columns(i, column + 1) = per_sigma[at] * (place - static_cast<double>(knot));
    }
    picture = independent(picture);
    if (n < picture.columns.cols() - 1 + 5) return std::nullopt;
    return picture;
}

Whitened whiten(const Picture& picture, const Memory& memory) {
    Whitened out{.rows = picture.columns};
    Eigen::RowVectorXd state = Eigen::RowVectorXd::Zero(out.rows.cols());
    const auto count = static_cast<double>(out.rows.rows());
    double spread = 1;
    Mean before;
    for (std::size_t i = 0; i < picture.x.size(); ++i) {
        auto row = out.rows.row(static_cast<Eigen::Index>(i));
        double expected = (1 - memory.share) / picture.samples[i];
        out.row_variance += expected / count;
        if (memory.share > 0) {
            const Mean mean = mean_of_band(picture.samples[i], picture.span[i], memory.correlation);
            if (i > 0) {
                const double apart =
                    picture.x[i] - picture.x[i - 1] - (picture.span[i] + picture.span[i - 1]) / 2;
                const double covariance =
                    before.to_end * mean.to_end * std::exp(-std::max(0.0, apart) / memory.correlation);
                const double keep = std::min(1.0, covariance / std::sqrt(before.variance * mean.variance));
                state *= keep;
                spread = keep * keep * spread + 1 - keep * keep;
            }
            before = mean;
            const double seen = std::sqrt(memory.share * mean.variance);
            out.row_variance += seen * seen / count;
            expected += seen * seen * spread;
            const double gain = seen * spread / expected;
            row -= seen * state;
            state += gain * row;
            spread *= 1 - seen * gain;
        }
        row /= std::sqrt(expected);
        out.log_determinant += std::log(expected);
    }
    return out;
}

Reduced reduce(const Rows& rows, Eigen::Index of_law) {
    const Eigen::Index count = rows.cols() - 1;
    Reduced out;
    out.basis.resize(rows.rows(), count);
    out.length.resize(count);
    Eigen::VectorXd column;
    for (Eigen::Index k = 0; k < count; ++k) {
        column = rows.col(k);
        take_out(out.basis, k, column);
        out.length(k) = column.norm();
        out.basis.col(k) = out.length(k) > 0 ? Eigen::VectorXd(column / out.length(k)) : column;
    }
    out.after_law = rows.col(count);
    take_out(out.basis, of_law, out.after_law);
    column = out.after_law;
    out.along = take_out(out.basis, count, column);
    out.rss_law = out.after_law.squaredNorm();
    out.rss_free = column.squaredNorm();
    return out;
}

}  // namespace ebbtide::decay
