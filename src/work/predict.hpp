#pragma once
// Decay times of a sheet of known surface resistivity in a bench's fixture, and the resistivity that a decay
// time needs.

#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "basis/result.hpp"
#include "plan/bench.hpp"
#include "plan/level.hpp"
#include "work/sheet_of_bench.hpp"

namespace ebbtide::work {

/// What is varied.
enum class Swept { resistivity, gap, sensor_distance, enclosure };
[[nodiscard]] std::string_view name_of(Swept one);
[[nodiscard]] std::string_view unit_of(Swept one);  ///< "ohm" or "mm"

struct Sweep {
    Swept what = Swept::resistivity;
    double from = 0, to = 0;  ///< ohm, or millimetres; 0 < from < to
};

/// "1e9:1e13" (resistivity), "gap=50:100", "sensor=10:40", "enclosure=30:100" (millimetres). Error: anything
/// else.
[[nodiscard]] Result<Sweep> parse_sweep(const std::string& text);

struct PredictRequest {
    plan::Bench bench;
    SheetQuestion question = {};
    std::vector<plan::Level> levels;  ///< fractions; at least one
    // One of the two, but for a sweep over resistivities, which needs neither:
    std::optional<double> resistivity_ohm_sq = {};
    std::optional<double> decay_s = {};  ///< to the first level
    std::optional<Sweep> sweep = {};
    std::optional<double> meets_s = {};  ///< a limit on the decay time to the first level
    double contact_ohm_m = 0;  ///< resistance times width between each clamp and the sheet, at least 0
};

/// To one level of the hold's reading, as `measure` takes V0. 0: the clamps' part alone takes it there.
struct PredictedLevel {
    plan::Level level;
    double decay_s = 0;
    double after_release_s = 0;                ///< to the same share of the reading just after the release
    std::optional<double> other_decay_s = {};  ///< by the other operator, where it applies
};

struct Predicted {
    double at = 0;  ///< what is swept; of no sweep the resistivity
    double resistivity_ohm_sq = 0;
    double time_constant_s = 0;  ///< of the slowest mode, contacts included
    double capacitance_F_m2 = 0;
    double induced_fraction = 0;
    std::vector<PredictedLevel> levels;
    std::optional<bool> meets = {};
};

struct Prediction {
    SheetOperator used = SheetOperator::hanging;
    CapacitanceSource source = CapacitanceSource::unknown;
    double u_capacitance = 0;  ///< relative
    std::string caution;
    std::optional<Predicted> asked = {};  ///< nothing for a sweep over resistivities alone
    /// Where a decay time was given: the resistivity that the other operator asks for.
    std::optional<double> other_resistivity_ohm_sq = {};
    std::vector<Predicted> swept = {};  ///< ascending
    std::optional<Swept> what = {};
    /// A sweep over resistivities with a limit: the highest that meets it, whether or not it lies in the
    /// sweep.
    std::optional<double> highest_that_meets_ohm_sq = {};
};

/// No lag, no fall time of the clamps, a long hold, no field dependence. A sweep of lengths voids a
/// calibration: c is then by lengths. Errors: a capacitance that nobody knows; figures out of range; a decay
/// time or limit to a level that the clamps' part alone reaches, or that the contacts alone take longer for;
/// contacts 1e9 times the sheet's own resistance; lengths outside those of cut_sheet.
[[nodiscard]] Result<Prediction> predict(const PredictRequest& request);

/// ebbtide.predict/1, docs/formats/predict.md.
[[nodiscard]] nlohmann::json json_of(const Prediction& prediction, const PredictRequest& request);

}  // namespace ebbtide::work
