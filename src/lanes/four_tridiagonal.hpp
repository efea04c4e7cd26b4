#pragma once
// Four symmetric tridiagonal systems side by side, the four numbers of a row next to each other: each waits
// for its own row before only, so that four take the time of one.

#include <span>

namespace ebbtide::lanes {

/// Rows are eliminated from both ends toward the middle one, count / 2. `coupling` holds, counted positive,
/// what couples a row with the next: four numbers less than `diagonal`. Sets, each as large as `diagonal`,
/// 1 / pivot, and what a row hands on to its neighbour toward the middle, for each of its own.
void factor_four(std::span<const double> diagonal, std::span<const double> coupling,
                 std::span<double> pivot_inverse, std::span<double> inward);

/// Takes the right sides to the solutions.
void solve_four(std::span<const double> pivot_inverse, std::span<const double> inward,
                std::span<double> right_side);

}  // namespace ebbtide::lanes
