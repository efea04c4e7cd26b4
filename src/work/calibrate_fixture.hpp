#pragma once
// What a fixture does, found with something known in it: the induced fraction of the empty fixture, the
// effective capacitance by a reference sheet, the plate's stray capacitance by the RC check standard.

#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "basis/result.hpp"
#include "recording/source.hpp"
#include "work/infer.hpp"
#include "work/measure.hpp"

namespace ebbtide::work {

/// Nothing in the fixture: the induced fraction of each polarity that was recorded.
struct EmptyFixture {};

/// A sheet of known surface resistivity.
struct ReferenceSheet {
    double resistivity_ohm_sq = 0;
    double u_relative = 0;
    std::string name = {};
};

/// The plate goes to the clamps through R and to earth through C.
struct CheckStandard {
    double resistance_ohm = 0, capacitance_F = 0;
    double u_relative = 0;  ///< of each of the two
    /// With it the stray capacitance is one for each area, which stands for that of a sheet.
    std::optional<double> plate_m2 = {};
    std::string name = {};
};

struct CalibrationRequest {
    MeasureRequest measure;  ///< with a bench that states gap and sensor distance
    std::variant<EmptyFixture, ReferenceSheet, CheckStandard> known;
    Date done;
    std::optional<double> relative_humidity_percent = {}, temperature_C = {};
};

/// A run and what it gave.
struct CalibrationRun {
    std::string file, run_id;
    plan::Polarity polarity = plan::Polarity::positive;
    std::optional<double> value = {};  ///< induced fraction, capacitance, or stray capacitance
    std::optional<double> prompt_drop = {};
    std::string reason;  ///< why it gave none
};

struct FixtureCalibrated {
    std::vector<plan::FixtureCalibration> found;
    std::vector<CalibrationRun> runs;
};

/// Gathers runs from recording after recording.
class FixtureCalibrator {
  public:
    /// Errors: no bench; no gap or sensor distance; figures out of range; lengths outside those of cut_sheet.
    [[nodiscard]] static Result<FixtureCalibrator> of(CalibrationRequest request);
    /// Errors: those of measure().
    [[nodiscard]] Result<Done> add(const std::string& file, recording::Source& source);
    /// Means over the runs; their scatter, the uncertainty of each, of zero and of what is known make u.
    /// Error: no run gave a value.
    [[nodiscard]] Result<FixtureCalibrated> result() const;

  private:
    struct Measured {
        plan::Polarity polarity = plan::Polarity::positive;
        double value = 0, u = 0;
    };
    CalibrationRequest request_;
    InferRequest infer_ = {};  // of a reference sheet
    std::optional<InferModel> model_ = {};
    std::vector<CalibrationRun> runs_;
    std::vector<Measured> measured_;
};

/// Lines of a bench file: a [[fixture_calibration]] table each.
[[nodiscard]] std::string toml_of(const std::vector<plan::FixtureCalibration>& calibrations);

/// The text of a bench file with the calibrations added and its revision changed. Error: the text names no
/// revision that can be replaced; what comes of it is no bench file.
[[nodiscard]] Result<std::string> with_calibrations(
    const std::string& bench_toml, const std::string& revision,
    const std::vector<plan::FixtureCalibration>& calibrations);

}  // namespace ebbtide::work
