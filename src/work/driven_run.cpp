#include "work/driven_run.hpp"

#include <fmt/format.h>

#include <filesystem>

#include "basis/number_text.hpp"
#include "recording/source.hpp"
#include "work/bench_standing.hpp"
#include "work/order_files.hpp"

namespace ebbtide::work {
namespace {

constexpr const char* aborted_folder = "aborted";

std::string volts_note(const std::optional<double>& value) {
    return value ? fixed_text(*value, 1) : "";
}

std::string causes_of(const std::vector<plan::Flag>& flags) {
    std::string text;
    for (const plan::Flag& flag : flags)
        if (flag.consequence == plan::Consequence::void_run)
            text += fmt::format("{}{}", text.empty() ? "" : " ", flag.message);
    return text;
}

}  // namespace

RunReadings readings_of(const bench::Driven& driven) {
    RunReadings out;
    out.zero_V = driven.state.zero.mean();
    out.residual_V = driven.state.residual_V();
    if (driven.state.released_s) out.held_V = driven.state.held_V;
    out.accepted = driven.accepted;
    out.level_reached = driven.level_reached;
    return out;
}

DrivenRuns::DrivenRuns(std::string folder, std::string who, Instant began,
                       const record::OrderRecord& documents, const plan::Bench& bench, LiveOrder* live)
    : folder_(std::move(folder)),
      who_(std::move(who)),
      began_(began),
      documents_(documents),
      bench_(bench),
      live_(live) {}

std::vector<std::string> DrivenRuns::keep_leftovers() const {
    std::vector<std::string> kept;
    if (!live_) return kept;
    const auto names = names_in(path(aborted_folder));
    if (!names) return kept;
    for (const std::string& name : *names) {
        if (!name.ends_with(unfinished)) continue;
        const std::string part = fmt::format("{}/{}", aborted_folder, name);
        const std::string whole = part.substr(0, part.size() - std::string_view(unfinished).size());
        if (give_file_name(path(part), path(whole))) kept.push_back(whole);
    }
    return kept;
}

Result<Done> DrivenRuns::begin(const OpenPlace& place) {
    if (!live_) return Done{};
    auto recording = RunRecording::create(path(free_name()), bench_, began_,
                                          {{"order", documents_.order.id},
                                           {"place", place.key.label()},
                                           {"bench", bench_.id + " " + bench_.revision},
                                           {"driven by", who_}});
    if (!recording) return recording.error();
    recording_ = std::make_unique<RunRecording>(std::move(recording).value());
    return Done{};
}

void DrivenRuns::keep(const bench::Observation& seen) {
    temperature_C_ = seen.temperature_C;
    relative_humidity_percent_ = seen.relative_humidity_percent;
    if (!recording_ || fault_) return;
    if (const auto added = recording_->add(seen); !added) fault_ = added.error();
}

Result<DrivenRun> DrivenRuns::end(const OpenPlace& place, const bench::Driven& driven, Instant now) {
    DrivenRun run;
    run.key = place.key;
    run.recorded = driven.recorded;
    run.words = driven.words();
    run.readings = readings_of(driven);
    run.readings.temperature_C = temperature_C_;
    run.readings.relative_humidity_percent = relative_humidity_percent_;
    if (recording_)
        if (const auto kept = keep_run(place, run, now); !kept) return kept.error();
    if (run.kept) {
        run.kept->readings = run.readings;
        run.kept->words = run.words;
    }
    return run;
}

/// What was recorded of a run goes to its place of the plan, or is kept as what does not count.
Result<Done> DrivenRuns::keep_run(const OpenPlace& place, DrivenRun& run, Instant now) {
    const std::unique_ptr<RunRecording> recording = std::move(recording_);
    if (fault_) return *fault_;
    std::error_code ignored;
    if (recording->samples() == 0) {
        std::filesystem::remove(recording->path() + unfinished, ignored);
        return Done{};
    }
    const auto finished = recording->finish({{"zero V", volts_note(run.readings.zero_V)},
                                             {"residual V", volts_note(run.readings.residual_V)},
                                             {"ended", run.recorded ? "recorded" : run.words}});
    if (!finished) return finished;
    run.file = std::filesystem::relative(recording->path(), folder_, ignored).string();
    if (!run.recorded) return Done{};
    auto kept = lay_on_plan(place, recording->path(), now);
    if (!kept) return kept.error();
    run.kept = std::move(kept).value();
    if (!run.kept) {
        run.words = "No fall from a charge was found in what was recorded.";
        return Done{};
    }
    run.file = run.kept->file;
    if (!run.kept->counts) run.words = "The run does not count. " + causes_of(run.kept->run.flags);
    // The run itself is on the disk now, and so is its place.
    std::filesystem::remove(recording->path(), ignored);
    return Done{};
}

/// Measured and cut as any recording is; of several that were cut the highest is the run.
Result<std::optional<RunRecorded>> DrivenRuns::lay_on_plan(const OpenPlace& place, const std::string& file,
                                                           Instant now) {
    recording::ReadOptions read;
    live_->name_channels(read);
    auto source = recording::open(file, read);
    if (!source) return source.error();
    MeasureRequest request = live_->measure_request();
    // Judging asks for these; nobody waits for them here.
    request.laws.reset();
    request.monte_carlo = false;
    std::vector<recording::Block> blocks;
    auto measured = measure(**source, request, {}, [&](const recording::Block& block) -> Result<Done> {
        blocks.push_back(block);
        return Done{};
    });
    if (!measured) return measured.error();
    if (measured->runs.empty() || blocks.size() != measured->runs.size()) return std::optional<RunRecorded>();
    std::size_t run = 0;
    for (std::size_t i = 1; i < blocks.size(); ++i)
        if (blocks[i].run && blocks[run].run && blocks[i].run->span.height > blocks[run].run->span.height)
            run = i;
    const auto container = run_container((*source)->description(), blocks[run]);
    if (!container) return container.error();
    if (const auto chosen = live_->choose(place.place); !chosen) return chosen.error();
    return live_->keep(measured->runs[run], *container, "driven: " + bench_.id, now);
}

/// Where a run is written while it goes on. It stays there when it does not come to a run of the plan.
std::string DrivenRuns::free_name() const {
    std::error_code none;
    for (int number = 1;; ++number) {
        std::string name = fmt::format("{}/drive-{}-{}.ebbrec", aborted_folder, name_text(began_), number);
        if (!std::filesystem::exists(path(name), none) &&
            !std::filesystem::exists(path(name) + unfinished, none))
            return name;
    }
}

}  // namespace ebbtide::work
