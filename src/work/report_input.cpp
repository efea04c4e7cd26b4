#include "work/report_input.hpp"

#include <optional>
#include <set>

#include "basis/sha256.hpp"
#include "record/json.hpp"
#include "recording/container_layout.hpp"
#include "recording/hdf5_reader.hpp"
#include "recording/sound.hpp"
#include "work/order_documents.hpp"

namespace ebbtide::work {
namespace {

/// How the order or the terms name the document of this role; empty for the order's own files.
std::string cited_name(const record::OrderRecord& record, const std::string& role) {
    if (role == "method") return record.order.method.file;
    if (role == "specification") return record.order.specification.file;
    return role == "terms" ? record.terms.specification : std::string();
}

/// By the first bytes, as the readers tell kinds apart.
const char* media_type_of(const std::string& recording) {
    if (recording::container::looks_like_one(recording)) return "application/octet-stream";
    if (recording::looks_like_hdf5(recording)) return "application/x-hdf5";
    if (recording::looks_like_sound(recording))
        return recording.starts_with("FORM") ? "audio/aiff" : "audio/vnd.wave";
    return "text/csv";
}

}  // namespace

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
        if (file.role == "recording" && files.keeps_only_runs_of(file.name)) continue;
        std::string bytes;
        if (file.role == "runs") {
            const auto kept = judged.kept_runs.find(file.name);
            // Judged from a report, its runs are still what that carried.
            auto runs = kept != judged.kept_runs.end()
                            ? kept->second->bytes()
                            : files.bytes(file.name, judged.retention.kept_runs_at_most);
            if (!runs) return runs.error();
            bytes = std::move(runs).value();
        } else if (file.role == "recording" || file.role == "replaced_report") {
            auto whole = files.bytes(file.name, at_most);
            if (!whole) return whole.error();
            bytes = std::move(whole).value();
        } else {
            const std::string cited_as = cited_name(judged.record, file.role);
            auto text =
                cited_as.empty() || is_own(cited_as) ? files.text(file.name) : files.shipped_text(cited_as);
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
        const char* type = file.role == "recording" || file.role == "runs" ? media_type_of(bytes)
                           : file.role == "bench_check"                    ? "application/json"
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
