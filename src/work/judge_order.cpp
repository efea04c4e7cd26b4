#include "work/judge_order.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <optional>
#include <set>

#include "basis/sha256.hpp"
#include "basis/version.hpp"
#include "judge/apparatus_match.hpp"
#include "judge/influences.hpp"
#include "judge/judgement.hpp"
#include "judge/run_flags.hpp"
#include "paperwork/paperwork.hpp"
#include "record/json.hpp"
#include "recording/container_layout.hpp"
#include "work/amendment.hpp"
#include "work/measure.hpp"
#include "work/plot_trace.hpp"
#include "work/reference_runs.hpp"

namespace ebbtide::work {
namespace {

template <class T>
struct Document {
    std::string name;
    T value;
};

record::InputFile input_of(std::string role, const std::string& name, const std::string& text) {
    return {std::move(role), name, sha256_hex(text), text.size()};
}

/// A cited file is one of the folder when its name ends in .toml, else a shipped one.
bool is_own(const plan::Citation& citation) {
    return citation.file.ends_with(".toml");
}

template <class T, class Parse>
Result<Document<T>> cited(const OrderFiles& files, const plan::Citation& citation, const char* role,
                          Parse parse, std::vector<record::InputFile>& inputs) {
    const bool own = is_own(citation);
    const std::string name = own ? citation.file : shipped_name(citation.file);
    auto text = own ? files.text(citation.file) : files.shipped_text(citation.file);
    if (!text) return text.error();
    auto parsed = parse(*text, name);
    if (!parsed) return parsed.error();
    if (parsed->edition != citation.edition)
        return Error{Fault::bad_input,
                     fmt::format("the order cites edition '{}' of {}, the file is edition '{}'",
                                 citation.edition, name, parsed->edition),
                     "order.toml", "Agree with the customer which edition applies, then cite that one"};
    inputs.push_back(input_of(role, name, *text));
    return Document<T>{name, std::move(parsed).value()};
}

/// How the order or the terms name the document of this role; empty for the order's own files.
std::string cited_name(const record::OrderRecord& record, const std::string& role) {
    if (role == "method") return record.order.method.file;
    if (role == "specification") return record.order.specification.file;
    return role == "terms" ? record.terms.specification : std::string();
}

recording::ReadOptions read_options(const plan::PlannedRecording& planned,
                                    const std::optional<plan::Bench>& bench) {
    recording::ReadOptions options;
    const plan::ChannelNames names = bench ? bench->channels : plan::ChannelNames{};
    const auto pick = [](const std::string& own, const std::string& usual) {
        return own.empty() ? usual : own;
    };
    options.specimen = pick(planned.channel_specimen, names.specimen);
    options.electrode = pick(planned.channel_electrode, names.electrode);
    options.marker = pick(planned.channel_marker, names.marker);
    options.time = pick(planned.channel_time, names.time);
    options.sample_interval_s = planned.sample_interval_s;
    if (!options.sample_interval_s && bench) options.sample_interval_s = bench->sample_interval_s;
    return options;
}

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

/// A specification's levels that are not among the method's: a decay time nobody took cannot be judged.
void add_levels(plan::DecayRules& rules, const plan::Specification& specification) {
    for (const plan::Level& level : plan::levels_asked(specification))
        if (std::ranges::none_of(rules.levels, [&](const plan::Level& one) {
                return one.kind == level.kind && one.value == level.value;
            }))
            rules.levels.push_back(level);
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

/// The specification that the terms name instead of the cited one; nothing when they name none.
Result<std::optional<plan::Specification>> other_specification(const OrderFiles& files,
                                                               const plan::Terms& terms,
                                                               record::OrderRecord& record) {
    if (terms.specification.empty()) return std::optional<plan::Specification>();
    const bool own = is_own({terms.specification, ""});
    const std::string name = own ? terms.specification : shipped_name(terms.specification);
    auto text = own ? files.text(name) : files.shipped_text(terms.specification);
    if (!text) return text.error();
    auto parsed = paperwork::parse_specification(*text, name);
    if (!parsed) return parsed.error();
    if (std::ranges::find(record.inputs, name, &record::InputFile::name) == record.inputs.end())
        record.inputs.push_back(input_of("terms", name, *text));
    return std::optional(std::move(parsed).value());
}

}  // namespace

Result<MeasuredOrder> measure_order(const OrderFiles& files, Instant made, const Progress& progress,
                                    const plan::Terms& terms, const Retention& retention) {
    MeasuredOrder measured;
    JudgedOrder& judged = measured.judged;
    judged.retention = retention;
    record::OrderRecord& record = judged.record;
    record.engine_version = version_text;
    record.made = made;

    auto order_text = files.text("order.toml");
    if (!order_text) return order_text.error();
    auto order = paperwork::parse_order(*order_text, "order.toml");
    if (!order) return order.error();
    record.inputs.push_back(input_of("order", "order.toml", *order_text));
    auto method = cited<plan::Method>(files, order->method, "method", paperwork::parse_method, record.inputs);
    if (!method) return method.error();
    auto specification = cited<plan::Specification>(files, order->specification, "specification",
                                                    paperwork::parse_specification, record.inputs);
    if (!specification) return specification.error();
    if (!order->bench_file.empty()) {
        auto bench_text = files.text(order->bench_file);
        if (!bench_text) return bench_text.error();
        auto bench = paperwork::parse_bench(*bench_text, order->bench_file);
        if (!bench) return bench.error();
        record.inputs.push_back(input_of("bench", order->bench_file, *bench_text));
        record.bench = std::move(bench).value();
    }
    record.order = std::move(order).value();
    record.method = std::move(method->value);
    record.specification = std::move(specification->value);
    if (auto conflict = judge::apparatus_conflict(record.method, record.specification, record.bench))
        return *conflict;
    for (const std::string& problem : decay::problems_of(record.method.decay))
        return Error{Fault::bad_input, problem, method->name, "State it in the method"};
    auto other = other_specification(files, terms, record);
    if (!other) return other.error();
    measured.other = std::move(other).value();
    if (measured.other)
        if (auto conflict = judge::apparatus_conflict(record.method, *measured.other, record.bench))
            return *conflict;
    plan::DecayRules rules = record.method.decay;
    add_levels(rules, record.specification);
    add_levels(rules, plan::asked_under(terms, measured.other.value_or(record.specification)));

    // Of a recording that is kept by its runs, these stand for it.
    const auto open = [&](const plan::PlannedRecording& planned, std::size_t occurrence) {
        const bool only_runs = files.keeps_only_runs_of(planned.file);
        return files.recording(only_runs ? kept_runs_name(planned.file, occurrence) : planned.file,
                               read_options(planned, record.bench));
    };
    const auto references =
        reference_levels(record.order, record.method, record.bench,
                         [&](const plan::PlannedRecording& planned) { return open(planned, 1); });
    if (!references) return references.error();

    std::vector<judge::JudgedRun>& runs = measured.runs;
    std::size_t number = 0;
    std::map<std::string, std::size_t> occurrences;
    for (const plan::PlannedRecording& planned : record.order.recordings) {
        if (progress) progress(planned.file, ++number, record.order.recordings.size());
        const std::size_t occurrence = ++occurrences[planned.file];
        auto source = open(planned, occurrence);
        if (!source) return source.error();
        std::shared_ptr<KeptRunsFile> kept;
        if (files.size(planned.file) > retention.attached_at_most) {
            auto made_file = KeptRunsFile::create((*source)->description(), room_left(judged));
            if (!made_file) return made_file.error();
            kept = std::move(made_file).value();
        }
        auto file = measure(
            **source, {rules, record.bench, places_of(planned, record.method, *references)},
            [&](const MeasuredRun& run, const decay::RunTrace& trace) {
                judged.traces[run.run_id] = plot_trace(trace, run.figures);
            },
            kept ? RunKept([&](const recording::Block& run) { return kept->keep(run); }) : RunKept());
        if (!file) return file.error();
        file->recording.file = planned.file;
        if (auto fault = list_recording(judged, *file, files.keeps_only_runs_of(planned.file), kept,
                                        kept_runs_name(planned.file, occurrence)))
            return *fault;
        place_runs(runs, planned, *file, record.order, record.method, record.bench);
        record.recordings.push_back(std::move(file->recording));
    }
    return measured;
}

judge::Judgement judgement_of(const MeasuredOrder& measured, const plan::Terms& terms) {
    const record::OrderRecord& record = measured.judged.record;
    plan::Order order = record.order;
    order.decision_rule = plan::rule_under(terms, record.order);
    const bool other = !terms.specification.empty() && measured.other;
    return judge::judge_with_influences(
        measured.runs, order, record.method,
        plan::asked_under(terms, other ? *measured.other : record.specification), record.bench);
}

JudgedOrder judged_under(MeasuredOrder measured, const plan::Terms& terms) {
    record::OrderRecord& record = measured.judged.record;
    record.judgement = judgement_of(measured, terms);
    if (measured.other && !terms.specification.empty()) record.specification = std::move(*measured.other);
    record.specification = plan::asked_under(terms, std::move(record.specification));
    record.terms = terms;
    plan::Order applied = record.order;
    applied.decision_rule = plan::rule_under(terms, record.order);
    record.settings_hash = record::settings_hash(applied, record.method, record.specification, record.bench);
    return std::move(measured.judged);
}

Result<JudgedOrder> judge_order(const OrderFiles& files, Instant made, const Progress& progress,
                                const plan::Terms& terms, const Retention& retention) {
    auto measured = measure_order(files, made, progress, terms, retention);
    if (!measured) return measured.error();
    JudgedOrder judged = judged_under(std::move(measured).value(), terms);
    if (const auto compared = compare_with_replaced(judged.record, files); !compared) return compared.error();
    return judged;
}

Result<report::ReportInput> report_input(const OrderFiles& files, JudgedOrder judged) {
    report::ReportInput input;
    input.attachments.push_back({"record.json", "application/json",
                                 "Every figure, unrounded, and what it rests on",
                                 record::canonical_text(record::json_of(judged.record))});
    std::set<std::string> attached;
    std::uint64_t total = 0;
    std::optional<report::Attachment> replaced;
    for (const record::InputFile& file : judged.record.inputs) {
        if (!attached.insert(file.name).second) continue;
        const std::uint64_t at_most = judged.retention.attached_at_most;
        if ((file.role == "recording" || file.role == "replaced_report") && file.bytes > at_most) continue;
        std::string bytes;
        if (file.role == "runs") {
            const auto kept = judged.kept_runs.find(file.name);
            if (kept == judged.kept_runs.end())
                return Error{Fault::internal, "its runs were not set aside", file.name, ""};
            auto runs = kept->second->bytes();
            if (!runs) return runs.error();
            bytes = std::move(runs).value();
        } else if (file.role == "recording" || file.role == "replaced_report") {
            auto whole = files.bytes(file.name, at_most);
            if (!whole) return whole.error();
            bytes = std::move(whole).value();
        } else {
            const std::string cited_as = cited_name(judged.record, file.role);
            auto text = cited_as.empty() || is_own({cited_as, ""}) ? files.text(file.name)
                                                                   : files.shipped_text(cited_as);
            if (!text) return text.error();
            bytes = std::move(text).value();
        }
        if (sha256_hex(bytes) != file.sha256)
            return Error{Fault::inconsistent, "the file changed while it was being judged", file.name,
                         "Judge again"};
        if (file.role == "replaced_report") {
            replaced = report::Attachment{file.name, "application/pdf", file.role, std::move(bytes)};
            continue;
        }
        const char* type = recording::container::looks_like_one(bytes) ? "application/octet-stream"
                           : file.role == "recording"                  ? "text/csv"
                                                                       : "application/toml";
        total += bytes.size();
        input.attachments.push_back({file.name, type, file.role, std::move(bytes)});
    }
    // A replaced report holds the recordings once more, and a chain of them would grow without end.
    if (replaced && total + replaced->bytes.size() <= judged.retention.attached_at_most)
        input.attachments.push_back(std::move(*replaced));
    input.record = std::move(judged.record);
    input.traces = std::move(judged.traces);
    return input;
}

}  // namespace ebbtide::work
