#include "fit/triangle.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace ebbtide::fit {
namespace {

constexpr std::size_t block_rows = 256;  // with a dozen columns: fits the first-level cache

// A sum of squares whose inverse would overflow: a column of such numbers counts as zero.
constexpr double vanishing = 1e-280;

/// The power of two next to the largest magnitude; 1 when all are zero.
double unit_of(std::span<const double> numbers, double less) {
    double largest = 0;
    for (const double number : numbers) largest = std::max(largest, std::abs(number - less));
    return largest > 0 ? std::exp2(std::round(std::log2(largest))) : 1;
}

}  // namespace

std::vector<double> exponentials_of(const std::vector<double>& logs) {
    std::vector<double> out(logs.size());
    std::ranges::transform(logs, out.begin(), [](double l) { return std::exp(l); });
    return out;
}

void absorb(Block triangle, Block block) {
    const Eigen::Index columns = triangle.cols();
    for (Eigen::Index k = 0; k < columns; ++k) {
        const double below = block.col(k).squaredNorm();
        if (below < vanishing) continue;
        const double diagonal = triangle(k, k);
        const double turned = -std::copysign(std::sqrt(diagonal * diagonal + below), diagonal);
        const double head = diagonal - turned;
        const double factor = 2 / (head * head + below);
        for (Eigen::Index j = k + 1; j < columns; ++j) {
            const double share = factor * (head * triangle(k, j) + block.col(k).dot(block.col(j)));
            triangle(k, j) -= share * head;
            block.col(j) -= share * block.col(k);
        }
        triangle(k, k) = turned;
    }
}

Problem::Problem(const Law& law, const Curve& curve) : law_(law), curve_(curve) {
    if (!law.keeps_x) x_unit_ = unit_of(curve.x, 0);
    y_unit_ = unit_of(curve.y, law.constant);
    if (!curve.sigma.empty()) sigma_unit_ = unit_of(curve.sigma, 0);
}

Problem::Problem(const Problem& like, const Curve& curve) : Problem(like) {
    curve_ = curve;
}

void Problem::for_each_block(std::span<const double> theta, bool with_slopes, const Visit& visit) const {
    const auto columns = static_cast<Eigen::Index>(law_.amplitudes.size());
    const auto sloped = with_slopes ? static_cast<Eigen::Index>(law_.slopes.size()) : 0;
    const std::size_t most = std::min(block_rows, curve_.size());
    Eigen::MatrixXd rows(static_cast<Eigen::Index>(most), columns + sloped + 1);
    std::array<double, block_rows> x;
    for (std::size_t first = 0; first < curve_.size(); first += block_rows) {
        const std::size_t count = std::min(block_rows, curve_.size() - first);
        auto block = rows.topRows(static_cast<Eigen::Index>(count));
        for (std::size_t i = 0; i < count; ++i) {
            x[i] = curve_.x[first + i] / x_unit_;
            block(static_cast<Eigen::Index>(i), columns + sloped) =
                (curve_.y[first + i] - law_.constant) / y_unit_;
        }
        law_.evaluate({x.data(), count}, theta, block.leftCols(columns), block.middleCols(columns, sloped));
        if (!curve_.sigma.empty())
            for (std::size_t i = 0; i < count; ++i)
                block.row(static_cast<Eigen::Index>(i)) /= curve_.sigma[first + i] / sigma_unit_;
        visit(block, first);
    }
}

Small Problem::reduce(std::span<const double> theta) const {
    const auto width = static_cast<Eigen::Index>(law_.amplitudes.size() + law_.slopes.size() + 1);
    Small triangle = Small::Zero(width, width);
    for_each_block(theta, true, [&](Block rows, std::size_t) { absorb(triangle, rows); });
    return triangle;
}

Small Problem::reduce_columns(std::span<const double> theta) const {
    const auto width = static_cast<Eigen::Index>(law_.amplitudes.size() + 1);
    Small triangle = Small::Zero(width, width);
    for_each_block(theta, false, [&](Block rows, std::size_t) { absorb(triangle, rows); });
    return triangle;
}

Small Problem::reduce_residual(std::span<const double> theta, const SmallVector& amplitude) const {
    const auto width = static_cast<Eigen::Index>(law_.amplitudes.size() + law_.slopes.size() + 1);
    Small triangle = Small::Zero(width, width);
    for_each_block(theta, true, [&](Block rows, std::size_t) {
        rows.col(width - 1) -= rows.leftCols(amplitude.size()) * amplitude;
        absorb(triangle, rows);
    });
    return triangle;
}

}  // namespace ebbtide::fit
