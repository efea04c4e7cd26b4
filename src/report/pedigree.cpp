#include <fmt/format.h>

#include "report/chapters.hpp"
#include "report/words.hpp"

namespace ebbtide::report {
namespace {

std::string channels_text(const record::RecordingRecord& recording) {
    std::string text = recording.format;
    if (!recording.dialect.empty()) text += (text.empty() ? "" : ": ") + recording.dialect;
    for (const trace::ChannelDescription& channel : recording.channels) {
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

Table recordings_table(const std::vector<record::RecordingRecord>& recordings) {
    Table table;
    table.title = "Recordings";
    table.columns = {{"file and SHA-256"}, {"bytes", number}, {"runs", number}, {"as read"}, {"notices"}};
    for (const record::RecordingRecord& recording : recordings)
        table.rows.push_back({Cell{recording.file + "\n" + recording.sha256, {}, false, false},
                              Cell{std::to_string(recording.bytes), {}, false, false},
                              Cell{std::to_string(recording.runs.size()), {}, false, false},
                              Cell{channels_text(recording), {}, false, false},
                              Cell{notices_text(recording), {}, recording.notices.empty(), false}});
    return table;
}

Table inputs_table(const std::vector<record::InputFile>& inputs) {
    Table table;
    table.title = "Documents and files that the figures rest on";
    table.columns = {{"role", one_line}, {"name"}, {"SHA-256"}, {"bytes", number}};
    for (const record::InputFile& file : inputs)
        table.rows.push_back({Cell{file.role, {}, false, true}, Cell{file.name, {}, false, false},
                              Cell{file.sha256, {}, false, false},
                              Cell{std::to_string(file.bytes), {}, false, false}});
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
    if (!record.recordings.empty()) blocks.emplace_back(recordings_table(record.recordings));
    if (!record.inputs.empty()) blocks.emplace_back(inputs_table(record.inputs));
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
                  "with the record.",
                  Paragraph::Look::body, ""});
}

}  // namespace ebbtide::report
