#include "work/bench_check_record.hpp"

#include <fmt/format.h>

#include <filesystem>
#include <nlohmann/json.hpp>

#include "record/json.hpp"
#include "work/bench_standing.hpp"
#include "work/live_json.hpp"

namespace ebbtide::work {

using nlohmann::json;

std::string check_stem(const BenchCheckAnswer& answer) {
    return fmt::format("{}-{}", answer.closing ? "closing" : "opening", name_text(answer.began));
}

std::string label_of(const bench::CheckStep& step) {
    return fmt::format("{}{} {}", plan::name_of(step.mounted), step.second_voltage ? " second" : "",
                       plan::sign_of(step.aim.polarity));
}

void conclude_check(BenchCheckAnswer& answer, const std::vector<bench::CheckReading>& readings,
                    const plan::Bench& bench, const std::string& broken_off, Instant ended) {
    answer.ended = ended;
    answer.figures = bench::figures_of(readings, bench, *bench.check);
    answer.reason = broken_off;
    for (const bench::CheckFigure& figure : answer.figures)
        if (!figure.within())
            answer.reason += fmt::format("{}{}", answer.reason.empty() ? "" : "; ", figure.words());
    answer.good = answer.reason.empty();
    if (answer.good && !answer.closing)
        answer.good_until = answer.ended + Span::from_seconds(3600 * bench.check->valid_h);
}

Result<Done> keep_check_record(BenchCheckAnswer& answer, const std::string& bench_file,
                               const std::string& order) {
    const std::string name = check_stem(answer) + ".json";
    answer.file = fmt::format("{}/{}", checks_folder, name);
    const std::string text = record::canonical_text(json_of(answer));
    auto written = write_check_file(folder_of_bench(bench_file), name, text);
    std::error_code none;
    const bool elsewhere =
        !order.empty() && !std::filesystem::equivalent(folder_of_bench(bench_file), order, none);
    if (written && elsewhere) written = write_check_file(order, name, text);
    return written;
}

json json_of(const BenchCheckAnswer& answer) {
    json figures = json::array(), steps = json::array();
    for (const bench::CheckFigure& figure : answer.figures) figures.push_back(json_of(figure));
    for (const BenchCheckStep& step : answer.steps)
        steps.push_back({{"mounted", plan::name_of(step.step.mounted)},
                         {"polarity", plan::sign_of(step.step.aim.polarity)},
                         {"voltage_V", step.step.aim.voltage_V},
                         {"recording", step.file},
                         {"words", step.words}});
    return {{"schema", "ebbtide.bench_check/1"},
            {"kind", answer.closing ? "closing" : "opening"},
            {"bench", answer.bench},
            {"bench_revision", answer.revision},
            {"by", answer.who},
            {"began", iso_text(answer.began)},
            {"ended", iso_text(answer.ended)},
            {"good_until", answer.good_until ? json(iso_text(*answer.good_until)) : json()},
            {"outcome", answer.good ? "good" : "failed"},
            {"reason", answer.reason},
            {"source", answer.source.empty() ? json() : json(answer.source)},
            {"figures", std::move(figures)},
            {"steps", std::move(steps)}};
}

}  // namespace ebbtide::work
