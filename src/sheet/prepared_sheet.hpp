#pragma once
// A linear sheet made ready for many courses: its modes, which a simulation has only to add up.

#include <Eigen/Dense>
#include <array>
#include <optional>
#include <span>
#include <vector>

#include "sheet/clamp_voltage.hpp"
#include "sheet/clamped_modes.hpp"
#include "sheet/forward.hpp"

namespace ebbtide::sheet {

/// A sheet all of whose resistances are so many times as high (its surface's, its contacts', of leak and
/// absorption) does the same so many times as slowly: its modes serve every resistivity.
class PreparedSheet {
  public:
    /// Of `clamps` the contacts count. Some 30 us for a backed sheet of 200 strips, 5 ms for a hanging one of
    /// 96.
    ///
    /// Bad input: figures out of their ranges; a sheet whose modes are not at hand: field dependence,
    /// absorption in a hanging sheet, absorption or contacts that are 1e9 times faster or slower than it.
    [[nodiscard]] static Result<PreparedSheet> of(const CutSheet& sheet, const Material& material,
                                                  const Clamps& clamps, bool profiles = false);

    /// What `simulate` answers for this surface resistivity, when contacts, leak and absorption are those
    /// prepared, in proportion to it. Some microseconds and 30 ns a time for a sheet
    /// earthed at once.
    ///
    /// A mode counts until e^-60 of it is left: what all are short of lies far below the last digit of the
    /// clamps' voltage. Safe to share between threads.
    ///
    /// Bad input: as `simulate`; contacts in another proportion; a resistivity 1e60 times that prepared.
    [[nodiscard]] Result<std::vector<double>> sensed_V(double surface_resistivity_ohm_sq,
                                                       const Clamps& clamps,
                                                       std::span<const double> times_s) const;

    /// The whole of it; profiles if they were prepared.
    [[nodiscard]] Result<Course> course(double surface_resistivity_ohm_sq, const Clamps& clamps,
                                        std::span<const double> times_s) const;

  private:
    struct Answers;
    /// Reading, charge, and what will go out through the clamps and by leak, of a mode's amplitude of 1.
    using Seen = Eigen::Matrix<double, Eigen::Dynamic, 4, Eigen::RowMajor>;

    PreparedSheet(const CutSheet& sheet, const Material& material, const Clamps& clamps,
                  const Decomposition& found);
    [[nodiscard]] std::optional<Error> problem_of_run(double surface_resistivity_ohm_sq, const Clamps& clamps,
                                                      std::span<const double> times_s) const;
    [[nodiscard]] std::array<Answers, 2> answers_to(const std::array<Phase, 2>& phases) const;
    [[nodiscard]] Answers answers_to(const Phase& phase, Eigen::VectorXd start) const;
    template <class Take>
    void at_times(std::span<const double> times_s, double slower, const Answers& answers, Take take) const;

    double resistivity_ = 0, left_contact_ = 0, right_contact_ = 0, induced_fraction_ = 0;
    /// What a volt on the clamps leaks in a second, once its modes have settled.
    double leaked_per_Vs_ = 0;
    Eigen::VectorXd rate_per_s_, drive_;  // of the modes, the slowest first
    Seen seen_;
    // Of profiles.
    std::vector<Mode> modes_;
    Eigen::MatrixXd potential_, charge_C_m2_;
    Eigen::VectorXd from_clamps_;
};

}  // namespace ebbtide::sheet
