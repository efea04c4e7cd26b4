#include <fmt/format.h>

#include <algorithm>

#include "report/chapters.hpp"
#include "report/words.hpp"

namespace ebbtide::report {
namespace {

std::string reading_text(const record::RecordingRecord& recording) {
    std::string text = recording.format;
    if (!recording.dialect.empty()) text += (text.empty() ? "" : ": ") + recording.dialect;
    for (const trace::ChannelDescription& channel : recording.channels) {
        if (recording.dialect.find(channel.heading) != std::string::npos) continue;  // it says so already
        std::string quantity(trace::name_of(channel.quantity));
        for (char& c : quantity)
            if (c == '_') c = ' ';
        text += fmt::format(
            "\n{}{} is {}", channel.heading, channel.unit.empty() ? "" : fmt::format(" ({})", channel.unit),
            channel.quantity == trace::Quantity::other ? "not used in the figures" : quantity);
    }
    return text;
}

std::string notices_text(const record::RecordingRecord& recording) {
    if (recording.notices.empty()) return "none";
    std::string text;
    for (const trace::Notice& notice : recording.notices) {
        if (!text.empty()) text += "\n";
        text += words_for(notice.kind);
        if (notice.line > 0) text += fmt::format(", line {}", notice.line);
        if (notice.column > 0) text += fmt::format(", column {}", notice.column);
        if (notice.count > 1) text += fmt::format(", {} times", notice.count);
        if (!notice.text.empty()) text += ": " + notice.text;
    }
    return text;
}

/// What of each recording goes with the report, where that is not all of it.
void add_what_is_kept(std::vector<Block>& blocks, const ReportInput& input) {
    std::string by_runs, named;
    for (const record::RecordingRecord& recording : input.record.recordings) {
        const bool whole = std::ranges::find(input.attachments, recording.file, &Attachment::name) !=
                           input.attachments.end();
        std::string& list = recording.kept_by_runs ? by_runs : named;
        if (whole && !recording.kept_by_runs) continue;
        list += (list.empty() ? "" : ", ") + recording.file;
    }
    if (!by_runs.empty())
        blocks.emplace_back(Paragraph{
            fmt::format(
                "Too large to keep whole: {}. Of it the runs are kept, as attached files whose names end "
                "in .runs.ebbrec: every sample that its figures are made of, exactly as read, with where "
                "each run was cut. Not kept are what lay between the runs, the channels that no figure "
                "uses, and the bytes that the samples were read from. The SHA-256 above tells the whole "
                "recording, should the laboratory still have it.",
                by_runs),
            Paragraph::Look::body, ""});
    if (!named.empty() && !input.attachments.empty())
        blocks.emplace_back(Paragraph{
            fmt::format("Only named, and not kept with this report: {}. Figures from it can be worked "
                        "out again only with the recording itself, which its SHA-256 tells.",
                        named),
            Paragraph::Look::body, ""});
}

/// Columns that say the same of every recording are left out and said once, in the paragraph below.
void add_recordings(std::vector<Block>& blocks, const std::vector<record::RecordingRecord>& recordings) {
    const auto same_reading = [&](const auto& r) {
        return reading_text(r) == reading_text(recordings.front());
    };
    const bool one_reading = recordings.size() > 1 && std::ranges::all_of(recordings, same_reading);
    const bool none_noticed =
        std::ranges::all_of(recordings, [](const auto& r) { return r.notices.empty(); });
    Table table;
    table.title = "Recordings";
    table.columns = {{"file"}, {"SHA-256"}, {"bytes", number}, {"runs", number}};
    if (!one_reading) table.columns.push_back({"as read"});
    if (!none_noticed) table.columns.push_back({"noticed while reading"});
    for (const record::RecordingRecord& recording : recordings) {
        std::vector<Cell> row{Cell{recording.file, {}, false, true}, Cell{recording.sha256, {}, false, false},
                              Cell{std::to_string(recording.bytes), {}, false, false},
                              Cell{std::to_string(recording.runs.size()), {}, false, false}};
        if (!one_reading) row.push_back({reading_text(recording), {}, false, false});
        if (!none_noticed) row.push_back({notices_text(recording), {}, recording.notices.empty(), false});
        table.rows.push_back(std::move(row));
    }
    blocks.emplace_back(std::move(table));
    std::string below;
    if (one_reading) below += "All were read alike. " + reading_text(recordings.front()) + ". ";
    if (none_noticed) below += "Nothing was noticed while reading.";
    if (!below.empty()) blocks.emplace_back(Paragraph{below, Paragraph::Look::note, ""});
}

Table inputs_table(const record::OrderRecord& record) {
    Table table;
    table.title = "Documents that the figures rest on";
    table.columns = {{"role", one_line}, {"name"}, {"SHA-256"}, {"bytes", number}};
    for (const record::InputFile& file : record.inputs) {
        if (std::ranges::find(record.recordings, file.name, &record::RecordingRecord::file) !=
            record.recordings.end())
            continue;  // listed above
        std::string role = file.role;
        std::ranges::replace(role, '_', ' ');
        table.rows.push_back({Cell{role, {}, false, true}, Cell{file.name, {}, false, false},
                              Cell{file.sha256, {}, false, false},
                              Cell{std::to_string(file.bytes), {}, false, false}});
    }
    return table;
}

Table sources_table(const plan::Method& method) {
    Table table;
    table.title = "Where the values of the method come from";
    table.columns = {{"value"}, {"source"}};
    for (const auto& [key, source] : method.value_sources)
        table.rows.push_back({Cell{key, {}, false, false}, Cell{source, {}, false, false}});
    return table;
}

}  // namespace

void add_pedigree(Document& document, const ReportInput& input) {
    const record::OrderRecord& record = input.record;
    auto& blocks = document.blocks;
    blocks.emplace_back(Heading{"Pedigree"});
    if (!record.recordings.empty()) add_recordings(blocks, record.recordings);
    add_what_is_kept(blocks, input);
    if (Table inputs = inputs_table(record); !inputs.rows.empty()) blocks.emplace_back(std::move(inputs));
    if (!record.method.value_sources.empty()) blocks.emplace_back(sources_table(record.method));
    Facts facts;
    facts.rows = {{"Figures made by", "ebbtide " + record.engine_version, ""},
                  {"Figures made at", iso_text(record.made) + " (UTC)", ""},
                  {"Settings",
                   or_not_stated(record.settings_hash) +
                       "\nSHA-256 of method, specification, bench and order as understood",
                   ""},
                  {"Method taken from", or_not_stated(record.method.source), ""},
                  {"Specification taken from", or_not_stated(record.specification.source), ""}};
    for (const std::string& notice : {record.method.notice, record.specification.notice})
        if (!notice.empty()) facts.rows.push_back({"Note", notice, ""});
    blocks.emplace_back(std::move(facts));
    blocks.emplace_back(
        Paragraph{"To check this report: the PDF carries the record, the order's documents and the raw "
                  "recordings as attached "
                  "files. “ebbtide verify report.pdf” derives every figure from them again and compares it "
                  "with the record. The PDF is built to PDF/A-3b, not validated.",
                  Paragraph::Look::body, ""});
}

}  // namespace ebbtide::report
