#pragma once
// The material behind recorded falls: surface resistivity, or its product with the capacitance.

#include <optional>
#include <string>
#include <vector>

#include "basis/result.hpp"
#include "decay/figures.hpp"
#include "recording/source.hpp"
#include "sheet/inversion.hpp"
#include "sheet/ring_electrode.hpp"
#include "work/measure.hpp"
#include "work/sheet_of_bench.hpp"

namespace ebbtide::work {

/// A resistance measured between concentric rings on the same material.
struct RingMeasurement {
    sheet::RingElectrode rings;
    double resistance_ohm = 0;  ///< above 0
    double u_relative = 0;
};

struct InferRequest {
    MeasureRequest measure;  ///< with a bench
    SheetQuestion question = {};
    sheet::Second second = sheet::Second::nothing;
    std::optional<RingMeasurement> rings = {};
};

/// What the answer is an answer of.
enum class Told {
    nothing,
    product,      ///< R_s times c only: the capacitance is not calibrated
    resistivity,  ///< R_s itself
};
[[nodiscard]] std::string_view name_of(Told told);
[[nodiscard]] std::string_view name_of(sheet::InversionState state);
[[nodiscard]] std::string_view name_of(sheet::Identified identified);

struct InferredRun {
    std::string run_id;
    decay::Figures figures;
    std::vector<plan::Flag> flags;
    sheet::Inversion inversion;
    Told told = Told::nothing;
    sheet::Estimate resistance_capacitance_s_m2 = {};
    sheet::Estimate resistivity_ohm_sq = {};  ///< where it is told; the capacitance's uncertainty is in it
    std::optional<double> by_lengths_ohm_sq =
        {};                                    ///< the product over the capacitance by lengths: no interval
    std::optional<double> contact_ohm_m = {};  ///< of each contact, where it is determined and R_s is known
    std::optional<double> field_coefficient = {};  ///< beta in (m/V)^(1/2), likewise
    /// Time constant by the other operator over that by the one used, less 1.
    std::optional<double> operators_differ = {};
    /// Root mean square of what the other operator leaves over, over that of the one used.
    std::optional<double> other_residual_ratio = {};
    std::optional<sheet::RingComparison> rings = {};
};

/// A bench's sheet, and what its inversions share.
struct InferModel {
    BenchSheet sheet;
    sheet::FallModel used;
    std::optional<sheet::FallModel> other = {};
};

/// Errors: no bench; those of sheet_of.
[[nodiscard]] Result<InferModel> infer_model(const InferRequest& request);

struct InferredFile {
    std::vector<InferredRun> runs;
    std::vector<plan::Flag> flags;  ///< of the recording as a whole
};

/// Measures every run of `source` and inverts its fall. Errors: those of measure().
[[nodiscard]] Result<InferredFile> infer(recording::Source& source, const InferRequest& request,
                                         const InferModel& model);

/// A run's fall as an inversion takes it, its samples in `curve`: hold, clamps' fall and lag as far as the
/// run and the bench tell them. `clamps_induce` stands in where nobody measured that.
[[nodiscard]] sheet::SeenFall seen_fall(const fit::CurveStore& curve, const decay::RunTrace& run,
                                        const decay::Figures& figures, const plan::Bench& bench,
                                        const std::optional<double>& clamps_induce);

/// One run; `measured` with its figures, `run` as measure() shows it. Pure.
[[nodiscard]] InferredRun infer_run(const MeasuredRun& measured, const decay::RunTrace& run,
                                    const InferModel& model, const InferRequest& request);

}  // namespace ebbtide::work
