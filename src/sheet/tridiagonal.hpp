#pragma once
// Symmetric tridiagonal systems, as every chain of resistors makes them: diagonally dominant, what couples
// neighbours negative.

#include <Eigen/Dense>

namespace ebbtide::sheet {

class Tridiagonal {
  public:
    /// `coupling(i)` between i and i + 1, one element less than the diagonal, counted positive. Both ends are
    /// worked on at once, toward the middle: two chains of dependent steps take the time of one.
    ///
    /// Four systems at once lie side by side, the four numbers of a row next to each other.
    void factor(const Eigen::VectorXd& diagonal, const Eigen::Ref<const Eigen::VectorXd>& coupling,
                Eigen::Index systems = 1);

    /// Takes the right side, or all four, to the solution.
    void solve(Eigen::VectorXd& right_side) const;

    /// All pivots above zero and finite.
    [[nodiscard]] bool sound() const { return sound_; }

  private:
    Eigen::Index systems_ = 1;
    Eigen::VectorXd pivot_inverse_;
    Eigen::VectorXd inward_;  // what a row hands on to its neighbour toward the middle, for each of its own
    bool sound_ = false;
};

}  // namespace ebbtide::sheet
