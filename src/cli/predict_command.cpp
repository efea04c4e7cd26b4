#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "basis/number_text.hpp"
#include "cli/recordings.hpp"
#include "cli/report_file.hpp"
#include "cli/sheet_words.hpp"
#include "paperwork/paperwork.hpp"
#include "paperwork/sheet_map_file.hpp"
#include "record/json.hpp"
#include "report/picture_file.hpp"
#include "report/sweep_plot.hpp"
#include "work/order_files.hpp"
#include "work/predict.hpp"
#include "work/predict_map.hpp"

namespace ebbtide::cli {
namespace {

using work::Predicted;
using work::Prediction;

constexpr std::size_t mark_columns = 24;

std::string seconds_or_at_once(double value) {
    return value > 0 ? significant_text(value, 3) + " s" : "at once";
}

std::string text_of_asked(const Prediction& prediction, const work::PredictRequest& request) {
    const Predicted& asked = *prediction.asked;
    std::string out;
    if (request.decay_s) {
        out += fmt::format("{} to {} needs a surface resistivity of {} ohm\n",
                           seconds_or_at_once(*request.decay_s), request.levels.front().label(),
                           significant_text(asked.resistivity_ohm_sq, 3));
        if (prediction.other_resistivity_ohm_sq)
            out +=
                fmt::format("  by the {} sheet {} ohm, {} %\n", other_operator(prediction.used),
                            significant_text(*prediction.other_resistivity_ohm_sq, 3),
                            percent_apart(*prediction.other_resistivity_ohm_sq / asked.resistivity_ohm_sq));
    } else {
        out += fmt::format("surface resistivity {} ohm\n", significant_text(asked.resistivity_ohm_sq, 3));
    }
    out += fmt::format("  slowest time constant {}, induced fraction {}\n",
                       seconds_or_at_once(asked.time_constant_s), fixed_text(asked.induced_fraction, 3));
    out += fmt::format(
        "  {}{}{}{}\n", padded("level", 8), padded("decay time", 14), padded("after release", 16),
        asked.levels.front().other_decay_s ? fmt::format("by the {} sheet", other_operator(prediction.used))
                                           : "");
    for (const work::PredictedLevel& level : asked.levels) {
        out += fmt::format("  {}{}{}", padded(level.level.label(), 8),
                           padded(seconds_or_at_once(level.decay_s), 14),
                           padded(seconds_or_at_once(level.after_release_s), 16));
        if (level.other_decay_s)
            out += fmt::format("{}  {} %", padded(seconds_or_at_once(*level.other_decay_s), 10),
                               level.decay_s > 0 ? percent_apart(*level.other_decay_s / level.decay_s) : "-");
        out += "\n";
    }
    if (asked.meets)
        out += fmt::format("  {} the limit of {}\n", *asked.meets ? "meets" : "does not meet",
                           seconds_or_at_once(*request.meets_s));
    return out;
}

/// Where the time lies on a logarithmic line of all times; the limit is a bar.
class MarkLine {
  public:
    MarkLine(const std::vector<Predicted>& swept, std::optional<double> limit_s) : limit_s_(limit_s) {
        for (const Predicted& one : swept) reach(one.levels.front().decay_s);
        if (limit_s) reach(*limit_s);
    }
    [[nodiscard]] std::string of(double decay_s) const {
        std::vector<std::string> cells(mark_columns, "·");
        if (limit_s_) cells[column(*limit_s_)] = "|";
        if (decay_s > 0) cells[column(decay_s)] = "●";
        std::string out;
        for (const std::string& cell : cells) out += cell;
        return out;
    }

  private:
    void reach(double decay_s) {
        if (!(decay_s > 0)) return;
        low_ = std::min(low_, std::log(decay_s));
        high_ = std::max(high_, std::log(decay_s));
    }
    [[nodiscard]] std::size_t column(double decay_s) const {
        if (!(high_ > low_)) return 0;
        const double share = (std::log(decay_s) - low_) / (high_ - low_);
        return static_cast<std::size_t>(std::lround(share * (mark_columns - 1)));
    }
    std::optional<double> limit_s_;
    double low_ = HUGE_VAL, high_ = -HUGE_VAL;
};

std::string text_of_sweep(const Prediction& prediction, const work::PredictRequest& request) {
    const MarkLine line(prediction.swept, request.meets_s);
    std::string out =
        padded(fmt::format("{}, {}", work::name_of(*prediction.what), work::unit_of(*prediction.what)), 18);
    const std::size_t shown = std::min<std::size_t>(request.levels.size(), 2);
    for (std::size_t i = 0; i < shown; ++i) out += padded(request.levels[i].label(), 12);
    out += "\n";
    for (const Predicted& one : prediction.swept) {
        out += padded("  " + significant_text(one.at, 3), 18);
        for (std::size_t i = 0; i < shown; ++i) out += padded(seconds_or_at_once(one.levels[i].decay_s), 12);
        out += line.of(one.levels.front().decay_s);
        if (one.meets) out += *one.meets ? "  meets" : "  does not";
        out += "\n";
    }
    if (prediction.highest_that_meets_ohm_sq)
        out += fmt::format("up to {} ohm meets the limit of {} to {}\n",
                           significant_text(*prediction.highest_that_meets_ohm_sq, 3),
                           seconds_or_at_once(*request.meets_s), request.levels.front().label());
    return out;
}

report::SweepData plot_of(const Prediction& prediction, const work::PredictRequest& request) {
    report::SweepData out;
    out.title = "Decay time of a sheet";
    out.subtitle =
        fmt::format("{} sheet, {}", work::name_of(prediction.used), capacitance_words(prediction.source));
    const bool decades = *prediction.what == work::Swept::resistivity;
    out.axis = decades ? "surface resistivity, ohm"
                       : fmt::format("{}, mm", *prediction.what == work::Swept::gap ? "gap between the clamps"
                                               : *prediction.what == work::Swept::sensor_distance
                                                   ? "sensor distance"
                                                   : "distance of the enclosure behind");
    out.decades = decades;
    for (const Predicted& one : prediction.swept) out.places.push_back(one.at);
    for (std::size_t i = 0; i < request.levels.size(); ++i) {
        report::SweepLine line{request.levels[i].label(), {}};
        for (const Predicted& one : prediction.swept) line.decay_s.push_back(one.levels[i].decay_s);
        out.lines.push_back(std::move(line));
    }
    out.limit_s = request.meets_s;
    if (request.meets_s) out.limit_label = "limit";
    return out;
}

Result<work::PredictRequest> request_of(const PredictOptions& options) {
    work::PredictRequest request;
    auto text = work::read_whole(options.bench_file, 4u << 20);
    if (!text) return text.error();
    auto bench = paperwork::parse_bench(*text, options.bench_file);
    if (!bench) return bench.error();
    request.bench = *std::move(bench);
    auto levels = levels_of(options.levels);
    if (!levels) return levels.error();
    request.levels = *std::move(levels);
    request.question = {options.backing_capacitance_F_m2, options.backed};
    request.resistivity_ohm_sq = options.resistivity_ohm_sq;
    request.decay_s = options.decay_s;
    request.contact_ohm_m = options.contact_ohm_m;
    request.meets_s = options.meets_s;
    if (!options.sweep.empty()) {
        const auto sweep = work::parse_sweep(options.sweep);
        if (!sweep) return sweep.error();
        request.sweep = *sweep;
    }
    return request;
}

/// The same document as of an even sheet, with nothing asked of one.
nlohmann::json json_of(const work::MapPrediction& map, const work::PredictRequest& request) {
    Prediction none;
    none.used = work::SheetOperator::backed;
    none.source = map.source;
    none.u_capacitance = map.u_capacitance;
    none.caution = map.caution;
    nlohmann::json out = work::json_of(none, request);
    out["map"] = {{"cells_along", map.cells_along},           {"cells_across", map.cells_across},
                  {"lowest_ohm_sq", map.lowest_ohm_sq},       {"highest_ohm_sq", map.highest_ohm_sq},
                  {"parts_share", map.parts_share},           {"capacitance_F_m2", map.capacitance_F_m2},
                  {"induced_fraction", map.induced_fraction}, {"levels", nlohmann::json::array()}};
    for (const work::MapLevel& level : map.levels)
        out["map"]["levels"].push_back({{"level", level.level.text},
                                        {"decay_s", level.decay_s},
                                        {"after_release_s", level.after_release_s},
                                        {"even_ohm_sq", record::finite_or_null(level.even_ohm_sq)}});
    return out;
}

std::string text_of_map(const work::MapPrediction& map) {
    std::string out = fmt::format(
        "sheet of {} by {} cells, {} to {} ohm; parts cover {} % of it\n  {}{}{}as an even sheet of\n",
        map.cells_along, map.cells_across, significant_text(map.lowest_ohm_sq, 3),
        significant_text(map.highest_ohm_sq, 3), fixed_text(100 * map.parts_share, 0), padded("level", 8),
        padded("decay time", 14), padded("after release", 16));
    for (const work::MapLevel& level : map.levels)
        out += fmt::format(
            "  {}{}{}{}\n", padded(level.level.label(), 8), padded(seconds_or_at_once(level.decay_s), 14),
            padded(seconds_or_at_once(level.after_release_s), 16),
            level.even_ohm_sq ? significant_text(*level.even_ohm_sq, 3) + " ohm" : std::string("-"));
    return out;
}

int predict_of_map(const PredictOptions& options) {
    if (options.resistivity_ohm_sq || options.decay_s || options.meets_s || !options.sweep.empty())
        return complain({Fault::bad_input, "a map says what every place of the sheet is", "--map",
                         "Leave --surface-resistivity, --decay-time, --sweep and --meets away"});
    const auto request = request_of(options);
    if (!request) return complain(request.error());
    const auto text = work::read_whole(options.map_file, 4u << 20);
    if (!text) return complain(text.error());
    auto map = paperwork::parse_sheet_map(*text, options.map_file);
    if (!map) return complain(map.error());
    const auto found = work::predict_map(
        {request->bench, request->question, request->levels, request->contact_ohm_m, *std::move(map)});
    if (!found) return complain(found.error());
    if (options.json) {
        fmt::print("{}", record::canonical_text(json_of(*found, *request)));
        return ok;
    }
    fmt::print("{}{}",
               sheet_words(work::SheetOperator::backed, found->source, found->u_capacitance, found->caution),
               text_of_map(*found));
    return ok;
}

}  // namespace

int predict(const PredictOptions& options) {
    if (!options.output.empty()) {
        if (const auto fault = report::fault_of_picture_name(options.output)) return complain(*fault);
        if (options.sweep.empty())
            return complain({Fault::bad_input, "a picture is of a sweep, and none is asked for", "--output",
                             "Add --sweep 1e9:1e13"});
    }
    if (!options.map_file.empty()) return predict_of_map(options);
    const auto request = request_of(options);
    if (!request) return complain(request.error());
    const auto prediction = work::predict(*request);
    if (!prediction) return complain(prediction.error());
    if (!options.output.empty()) {
        const bool any = std::ranges::any_of(prediction->swept, [](const Predicted& one) {
            return std::ranges::any_of(one.levels, [](const auto& level) { return level.decay_s > 0; });
        });
        if (!any)
            return complain({Fault::bad_input,
                             "there is no decay time to draw: every level is reached at once", "--output",
                             "Ask for lower levels"});
        const auto bytes =
            report::picture_file(report::sweep_plot(plot_of(*prediction, *request), 440), options.output);
        if (!bytes) return complain(bytes.error());
        if (const auto written = write_file(options.output, *bytes); !written)
            return complain(written.error());
    }
    if (options.json) {
        fmt::print("{}", record::canonical_text(work::json_of(*prediction, *request)));
        return ok;
    }
    fmt::print("{}", sheet_words(prediction->used, prediction->source, prediction->u_capacitance,
                                 prediction->caution));
    if (prediction->asked) fmt::print("{}", text_of_asked(*prediction, *request));
    if (prediction->what) fmt::print("{}", text_of_sweep(*prediction, *request));
    return ok;
}

}  // namespace ebbtide::cli
