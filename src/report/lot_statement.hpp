#pragma once
// What is said of a lot, as the report shows it: a statement, why, a probability plot, how such a test sorts
// lots.

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "plan/level.hpp"
#include "report/document.hpp"
#include "report/lot_plot.hpp"
#include "report/report.hpp"
#include "stats/censored_fit.hpp"

namespace ebbtide::report {

struct LotStatement {
    std::string group;  ///< "Roll 7, warp, as received"; empty: the lot
    std::optional<plan::Level> level = {};
    std::string sentence = {}, sampling = {};  ///< the requirement in words; how it was sampled
    plan::Conformity mark = plan::Conformity::void_;
    std::string word = {};         ///< "shown", "open", "refuted", "no claim"
    std::string said_of = {};      ///< the claim
    std::string plain_words = {};  ///< why, without statistics
    std::vector<std::string> reasons = {}, cautions = {};
    std::vector<stats::Observation> sample = {};  ///< passes stats::check(); not empty
    stats::CensoredFit lognormal = {};
    std::optional<double> limit_s = {};
    std::optional<MarkedBound> bound = {};
    std::optional<OcCurve> operating = {};      ///< how surely a test of so many specimens shows the claim
    std::optional<double> claimed_beyond = {};  ///< the share over the limit that the claim allows
    std::vector<Table> tables = {};
};

/// Every decay time beside the limits on it, and the bounds of lots.
void add_dot_plots(Document& document, const ReportInput& input, std::span<const LotStatement> lots);
/// Its specimens on the scale on which a lognormal lot is a straight line.
[[nodiscard]] Picture probability_picture(const LotStatement& lot, double width);
/// How surely such a test shows the claim; nothing where that is not known.
[[nodiscard]] std::optional<Picture> operating_picture(const LotStatement& lot, double width);
/// A chapter each.
void add_lots(Document& document, std::span<const LotStatement> lots);

// As in report.hpp, with chapters on lots, whose bounds also stand on the dot plot.
[[nodiscard]] Document compose(const ReportInput& input, std::span<const LotStatement> lots);
[[nodiscard]] Result<std::string> to_html(const ReportInput& input, std::span<const LotStatement> lots);
[[nodiscard]] Result<std::string> to_pdf(const ReportInput& input, std::span<const LotStatement> lots,
                                         Paper paper = Paper::a4);

}  // namespace ebbtide::report
