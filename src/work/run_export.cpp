#include "work/run_export.hpp"

#include <stdlib.h>

#include <algorithm>
#include <array>
#include <filesystem>

#include "basis/number_text.hpp"
#include "recording/recording_file.hpp"
#include "report/picture_file.hpp"
#include "report/trace_plot.hpp"
#include "report/words.hpp"
#include "work/run_samples.hpp"

namespace ebbtide::work {
namespace {

struct FormatFacts {
    RunFormat format;
    std::string_view name, ending, media_type;
};
constexpr std::array formats{FormatFacts{RunFormat::csv, "csv", ".csv", "text/csv; charset=utf-8"},
                             FormatFacts{RunFormat::svg, "svg", ".svg", "image/svg+xml"},
                             FormatFacts{RunFormat::png, "png", ".png", "image/png"},
                             FormatFacts{RunFormat::hdf5, "hdf5", ".h5", "application/x-hdf5"}};

const FormatFacts& facts_of(RunFormat format) {
    return *std::ranges::find(formats, format, &FormatFacts::format);
}

/// Letters, digits, '-', '_' and '.' only: it is the name of a file, and stands in a header.
std::string name_of_file(const plan::Order& order, const plan::RunKey& key, std::string_view ending) {
    std::string text = order.id;
    for (const std::string& part : {key.specimen, key.face, key.conditions,
                                    std::string(key.polarity == plan::Polarity::positive ? "plus" : "minus"),
                                    std::to_string(key.replicate)})
        if (!part.empty()) text += "-" + part;
    std::string name;
    for (const char c : text.substr(0, 120))
        name += (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '-' ||
                        c == '_' || c == '.'
                    ? c
                    : '_';
    return name + std::string(ending);
}

std::string csv_cell(const std::string& text) {
    if (text.find_first_of(",\"\r\n") == std::string::npos) return text;
    std::string out = "\"";
    for (const char c : text) {
        if (c == '"') out += '"';
        out += c == '\r' || c == '\n' ? ' ' : c;
    }
    return out + '"';
}

/// As recorded where that was in volts; else what the numbers are now.
std::string heading_of(const trace::ChannelDescription& channel) {
    if (channel.factor_to_SI == 1) return channel.heading;
    return channel.quantity == trace::Quantity::electrode_voltage ? "Electrode voltage (V)"
                                                                  : "Specimen voltage (V)";
}

Result<std::string> csv_of(const RunAsRecorded& run, const plan::Order& order, const plan::RunKey& key) {
    std::vector<std::size_t> columns;
    for (std::size_t i = 0; i < run.samples.channels.size(); ++i)
        if (!run.samples.channels[i].value.empty()) columns.push_back(i);
    const std::vector<double>& time_s = run.samples.channels.at(columns.at(0)).time_s;
    for (const std::size_t i : columns)
        if (run.samples.channels[i].time_s != time_s)
            return Error{Fault::bad_input, "the channels of this run have different times", "format",
                         "Take hdf5: it keeps a time axis for each"};
    if (time_s.size() > most_csv_samples)
        return Error{Fault::bad_input, "the run has too many samples for a text", "format", "Take hdf5"};
    std::string out = "Order," + csv_cell(order.id) + "\nRun," + csv_cell(key.label()) + "\n\nTime (s)";
    for (const std::size_t i : columns) out += "," + csv_cell(heading_of(run.about.channels[i]));
    out += "\n";
    out.reserve(out.size() + time_s.size() * (12 + 12 * columns.size()));
    for (std::size_t k = 0; k < time_s.size(); ++k) {
        out += shortest_text(time_s[k]);
        for (const std::size_t i : columns) out += "," + shortest_text(run.samples.channels[i].value[k]);
        out += "\n";
    }
    return out;
}

/// The library writes files only.
Result<std::string> hdf5_of(RunAsRecorded run) {
    namespace fs = std::filesystem;
    std::error_code none;
    std::string folder = (fs::temp_directory_path(none) / "ebbtide_run_XXXXXX").string();
    if (::mkdtemp(folder.data()) == nullptr)
        return Error{Fault::unreadable, "no temporary folder can be made", folder, "Make room on the disk"};
    const auto written = [&]() -> Result<std::string> {
        const std::string path = folder + "/run.h5";
        auto writer = recording::new_recording_file(path, recording::FileKind::hdf5);
        if (!writer) return writer.error();
        if (auto described = (*writer)->describe(run.about); !described) return described.error();
        run.samples.run.reset();  // the layout has no place for where it was cut
        if (auto block = (*writer)->block(run.samples); !block) return block.error();
        if (auto finished = (*writer)->finish({"", 0, run.about.metadata, {}}); !finished)
            return finished.error();
        return read_whole(path, std::uint64_t{4} << 30);
    }();
    fs::remove_all(folder, none);
    return written;
}

Result<std::string> picture_of(const JudgedOrder& judged, const judge::JudgedRun& run,
                               const std::string& name) {
    const auto trace = judged.traces.find(run.run_id);
    if (trace == judged.traces.end() || trace->second.time_s.empty())
        return Error{Fault::bad_input, "there is nothing to draw", "run", ""};
    const report::PlottedRun plotted{&run, &trace->second};
    const std::span<const report::PlottedRun> runs(&plotted, 1);
    return report::picture_file(report::trace_plot(report::run_name(run.key), judged.record.order.id, runs,
                                                   report::wanted_time_s(runs).value_or(1), 480),
                                name);
}

}  // namespace

std::optional<RunFormat> run_format_named(std::string_view name) {
    const auto found = std::ranges::find(formats, name, &FormatFacts::name);
    return found == formats.end() ? std::nullopt : std::optional(found->format);
}

Result<RunFile> export_run(const OrderFiles& files, const JudgedOrder& judged, const judge::JudgedRun& run,
                           RunFormat format) {
    const FormatFacts& facts = facts_of(format);
    RunFile out{name_of_file(judged.record.order, run.key, facts.ending), std::string(facts.media_type), ""};
    Result<std::string> bytes = std::string();
    if (format == RunFormat::svg || format == RunFormat::png) {
        bytes = picture_of(judged, run, out.name);
    } else {
        auto samples = run_as_recorded(files, judged.record, run.run_id);
        if (!samples) return samples.error();
        bytes = format == RunFormat::csv ? csv_of(*samples, judged.record.order, run.key)
                                         : hdf5_of(std::move(samples).value());
    }
    if (!bytes) return bytes.error();
    out.bytes = std::move(bytes).value();
    return out;
}

}  // namespace ebbtide::work
