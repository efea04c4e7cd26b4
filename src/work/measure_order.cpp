#include "work/measure_order.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <optional>
#include <span>

#include "basis/version.hpp"
#include "judge/bench_standing.hpp"
#include "judge/run_flags.hpp"
#include "work/bench_standing.hpp"
#include "work/order_documents.hpp"
#include "work/plot_trace.hpp"
#include "work/reference_check.hpp"

namespace ebbtide::work {
namespace {

/// Lays measured runs on the places that the plan names for this recording, in order.
void place_runs(std::vector<judge::JudgedRun>& placed, const plan::PlannedRecording& planned,
                MeasuredFile& file, const plan::Order& order, const plan::Method& method,
                const std::optional<plan::Bench>& bench) {
    for (std::size_t i = 0; i < std::max(planned.runs.size(), file.runs.size()); ++i) {
        judge::JudgedRun run;
        if (i < planned.runs.size()) run.key = planned.runs[i].key;
        run.without_specimen = i < planned.runs.size() && planned.runs[i].without_specimen;
        if (i >= file.runs.size()) {
            run.flags.emplace_back(plan::FlagCode::run_missing,
                                   fmt::format("{} holds {} runs, the plan names {}.", planned.file,
                                               file.runs.size(), planned.runs.size()));
            placed.push_back(std::move(run));
            continue;
        }
        MeasuredRun& measured = file.runs[i];
        run.run_id = measured.run_id;
        run.flags = std::move(measured.flags);
        if (i >= planned.runs.size()) {
            run.key.specimen = planned.file;
            run.key.polarity = measured.figures.polarity;
            run.key.replicate = static_cast<int>(i) + 1;
            run.flags.emplace_back(plan::FlagCode::run_unplanned,
                                   fmt::format("Run {} of {}.", i + 1, planned.file));
        } else {
            const auto flags_of = run.without_specimen ? reference_flags : judge::method_flags;
            // What is held against the bench's limits is no business of the method's.
            if (!checked_in(planned, method))
                for (plan::Flag& flag : flags_of(measured.figures, run.key, order, method, bench))
                    run.flags.push_back(std::move(flag));
            if (!planned.runs[i].set_aside.empty())
                run.flags.emplace_back(plan::FlagCode::set_aside, planned.runs[i].set_aside);
            if (!planned.runs[i].retest_cause.empty())
                run.flags.emplace_back(plan::FlagCode::retested, planned.runs[i].retest_cause);
        }
        run.figures = std::move(measured.figures);
        placed.push_back(std::move(run));
    }
}

/// A specification's levels that are not among the method's.
void add_levels(plan::DecayRules& rules, const plan::Specification& specification) {
    for (const plan::Level& level : plan::levels_asked(specification)) plan::add_once(rules.levels, level);
}

/// The same samples are the same run, whatever their files are called: a copy is no replicate.
void flag_repeated(std::vector<judge::JudgedRun>& runs) {
    std::map<std::string, std::string> first;  // label by run id
    for (judge::JudgedRun& run : runs) {
        if (run.run_id.empty()) continue;
        const auto [seen, is_new] = first.try_emplace(run.run_id, run.key.label());
        if (!is_new)
            run.flags.emplace_back(plan::FlagCode::run_repeated,
                                   fmt::format("The same samples as {}.", seen->second));
    }
}

/// What the bench checks say of the runs of a recording. Without a time it is not known which checks stand
/// around it; a run that was heard live from a logger that tells no date was made when it was entered.
void flag_standing(std::span<judge::JudgedRun> runs, const std::vector<plan::BenchCheck>& checks,
                   const plan::CheckLimits& limits, const std::optional<Instant>& origin,
                   const std::optional<Instant>& heard) {
    for (judge::JudgedRun& run : runs) {
        if (run.run_id.empty()) continue;
        std::optional<Instant> at = heard;
        if (origin) at = *origin + Span::from_seconds(run.figures->release_s);
        if (at)
            for (plan::Flag& flag : judge::standing_flags(checks, limits, *at))
                run.flags.push_back(std::move(flag));
        else
            run.flags.emplace_back(
                plan::FlagCode::bench_check_stale,
                "The recording does not say when it was made: no bench check can stand behind it.");
    }
}

/// Bytes of kept runs that still go into the report.
std::uint64_t room_left(const JudgedOrder& judged) {
    std::uint64_t used = 0;
    for (const auto& [name, kept] : judged.kept_runs) used += kept->size();
    return judged.retention.kept_runs_at_most - std::min(used, judged.retention.kept_runs_at_most);
}

/// Enters the recording as what the record rests on: the file itself, or its runs beside its name and hash.
std::optional<Error> list_recording(JudgedOrder& judged, MeasuredFile& file, bool only_runs,
                                    const std::shared_ptr<KeptRunsFile>& kept, const std::string& kept_name) {
    record::RecordingRecord& recording = file.recording;
    record::InputFile runs{"runs", kept_name, "", 0};
    if (only_runs && file.kept_runs) {
        // Read from its kept runs: the record is of the recording, whose bytes are not here.
        runs.sha256 = recording.sha256;
        runs.bytes = recording.bytes;
        recording.sha256 = file.kept_runs->sha256;
        recording.bytes = file.kept_runs->bytes;
        recording.format = file.kept_runs->format;
        recording.dialect = file.kept_runs->dialect;
        recording.notices.insert(recording.notices.begin(), file.kept_runs->notices.begin(),
                                 file.kept_runs->notices.end());
        recording.kept_by_runs = true;
    } else if (kept) {
        const auto finished = kept->finish(recording);
        if (!finished) return finished.error();
        recording.kept_by_runs = !kept->given_up();
        runs.sha256 = kept->sha256();
        runs.bytes = kept->size();
        if (recording.kept_by_runs) judged.kept_runs[runs.name] = kept;
    }
    std::vector<record::InputFile>& inputs = judged.record.inputs;
    inputs.push_back({"recording", recording.file, recording.sha256, recording.bytes});
    if (recording.kept_by_runs) inputs.push_back(std::move(runs));
    return {};
}

}  // namespace

recording::ReadOptions options_for(const plan::PlannedRecording& planned,
                                   const std::optional<plan::Bench>& bench) {
    recording::ReadOptions options;
    const plan::ChannelNames names = bench ? bench->channels : plan::ChannelNames{};
    const auto pick = [](const std::string& own, const std::string& usual) {
        return own.empty() ? usual : own;
    };
    options.specimen = pick(planned.channels.specimen, names.specimen);
    options.electrode = pick(planned.channels.electrode, names.electrode);
    options.marker = pick(planned.channels.marker, names.marker);
    options.time = pick(planned.channels.time, names.time);
    options.sample_interval_s = planned.sample_interval_s;
    if (!options.sample_interval_s && bench) options.sample_interval_s = bench->sample_interval_s;
    return options;
}

void name_as_bench(recording::ReadOptions& read, const std::optional<plan::Bench>& bench) {
    const recording::ReadOptions usual = options_for({}, bench);
    using Options = recording::ReadOptions;
    for (const auto name : {&Options::specimen, &Options::electrode, &Options::marker, &Options::time})
        if ((read.*name).empty()) read.*name = usual.*name;
    if (!read.sample_interval_s) read.sample_interval_s = usual.sample_interval_s;
}

plan::DecayRules rules_asked(const record::OrderRecord& record, const plan::Terms& terms,
                             const std::optional<plan::Specification>& other) {
    plan::DecayRules rules = record.method.decay;
    add_levels(rules, record.specification);
    add_levels(rules, plan::asked_under(terms, other.value_or(record.specification)));
    return rules;
}

MeasureRequest OrderMeasures::request_for(const plan::PlannedRecording& planned,
                                          const record::OrderRecord& documents) const {
    if (const auto mounted = checked_in(planned, documents.method))
        return reference_request(*mounted, documents.bench);
    return {rules, documents.bench, places_of(planned, documents.method, references), laws};
}

Result<OrderMeasures> measures_of(const OrderFiles& files, const record::OrderRecord& documents,
                                  const plan::Terms& terms, const std::optional<plan::Specification>& other,
                                  bool with_laws) {
    OrderMeasures out;
    out.rules = rules_asked(documents, terms, other);
    auto references = reference_levels(
        documents.order, documents.method, documents.bench, [&](const plan::PlannedRecording& planned) {
            return open_planned(files, planned, 1, options_for(planned, documents.bench));
        });
    if (!references) return references.error();
    out.references = std::move(references).value();
    if (with_laws || out.rules.extrapolation_allowed) {
        out.laws.emplace();
        if (documents.bench) out.laws->modes = decay::modes_of(*documents.bench);
    }
    return out;
}

Result<std::unique_ptr<recording::Source>> open_planned(const OrderFiles& files,
                                                        const plan::PlannedRecording& planned,
                                                        std::size_t occurrence,
                                                        recording::ReadOptions options) {
    const bool only_runs = files.keeps_only_runs_of(planned.file);
    return files.recording(only_runs ? kept_runs_name(planned.file, occurrence) : planned.file, options);
}

Result<MeasuredOrder> measure_order(const OrderFiles& files, Instant made, const Progress& progress,
                                    const plan::Terms& terms, const Retention& retention, Depth depth) {
    MeasuredOrder measured;
    JudgedOrder& judged = measured.judged;
    judged.retention = retention;
    judged.depth = depth;
    record::OrderRecord& record = judged.record;
    record.engine_version = version_text;
    record.made = made;

    auto other = read_documents(files, terms, record);
    if (!other) return other.error();
    measured.other = std::move(other).value();
    const auto measures = measures_of(files, record, terms, measured.other, depth.laws);
    if (!measures) return measures.error();
    std::vector<plan::BenchCheck> checks;
    if (record.bench && record.bench->check) {
        auto found = bench_checks(files, *record.bench, record);
        if (!found) return found.error();
        checks = std::move(found).value();
    }
    std::vector<judge::JudgedRun>& runs = measured.runs;
    std::size_t number = 0;
    std::map<std::string, std::size_t> occurrences;
    for (const plan::PlannedRecording& planned : record.order.recordings) {
        if (progress) progress(planned.file, ++number, record.order.recordings.size());
        const std::size_t occurrence = ++occurrences[planned.file];
        auto source = open_planned(files, planned, occurrence, options_for(planned, record.bench));
        if (!source) return source.error();
        std::shared_ptr<KeptRunsFile> kept;
        if (files.size(planned.file) > retention.attached_at_most) {
            auto made_file = KeptRunsFile::create((*source)->description(), room_left(judged));
            if (!made_file) return made_file.error();
            kept = std::move(made_file).value();
        }
        const auto mounted = checked_in(planned, record.method);
        auto file = measure(
            **source, measures->request_for(planned, record),
            [&](const MeasuredRun& run, const decay::RunTrace& trace) {
                judged.traces[run.run_id] = plot_trace(trace, run.figures);
            },
            kept ? RunKept([&](const recording::Block& run) { return kept->keep(run); }) : RunKept());
        if (!file) return file.error();
        if (mounted)
            for (MeasuredRun& run : file->runs) hold_against_check(run, *mounted, record.bench);
        file->recording.file = planned.file;
        if (auto fault = list_recording(judged, *file, files.keeps_only_runs_of(planned.file), kept,
                                        kept_runs_name(planned.file, occurrence)))
            return *fault;
        const std::size_t placed = runs.size();
        place_runs(runs, planned, *file, record.order, record.method, record.bench);
        if (record.bench && record.bench->check)
            flag_standing(std::span(runs).subspan(placed), checks, *record.bench->check,
                          (*source)->description().origin, planned.heard);
        record.recordings.push_back(std::move(file->recording));
    }
    flag_repeated(runs);
    return measured;
}

}  // namespace ebbtide::work
