#pragma once
// Standing waves of the potential over equal strips between two contacts: the modes of a chain of equal
// resistors and capacitors, in closed form.

#include <Eigen/Dense>

namespace ebbtide::sheet {

/// height * cos(theta (i + 1/2) - phase) over strips i, its squares adding up to 1.
class Wave {
  public:
    /// The k-th of `count` waves, k from 0. `left` and `right` are the conductances of the contacts, with the
    /// half strip before them, over that between strips: above 0, 2 for a perfect contact.
    Wave(Eigen::Index count, Eigen::Index k, double left, double right);

    [[nodiscard]] double at(Eigen::Index i) const;
    /// At the contacts, and over all strips.
    [[nodiscard]] double first() const { return first_; }
    [[nodiscard]] double last() const { return last_; }
    [[nodiscard]] double sum() const { return sum_; }
    /// What the chain draws from a strip, for its own potential and the conductance between strips:
    /// 2 - 2 cos theta.
    [[nodiscard]] double drawn() const { return drawn_; }

  private:
    double theta_ = 0, phase_ = 0, height_ = 1;
    double first_ = 0, last_ = 0, sum_ = 0, drawn_ = 0;
};

}  // namespace ebbtide::sheet
