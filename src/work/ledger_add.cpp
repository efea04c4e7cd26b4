#include "work/ledger_add.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <optional>
#include <set>

#include "basis/sha256.hpp"
#include "ledger/canonical.hpp"
#include "ledger/entries.hpp"
#include "ledger/segments.hpp"
#include "record/json.hpp"
#include "work/judge_order.hpp"
#include "work/ledger_checks.hpp"
#include "work/ledger_entries.hpp"
#include "work/report_input.hpp"
#include "work/verify.hpp"

namespace ebbtide::work {
namespace {

using ledger::Database;
using ledger::Draft;
using ledger::Kind;
using nlohmann::json;

/// All that is to be written, before the ledger is touched.
struct Material {
    std::vector<report::Attachment> files;  ///< record.json among them
    std::string pdf;                        ///< empty: an order's folder
    std::optional<Verification> verified;   ///< of the PDF; nothing for one that was just made
    json record;
    std::string record_sha256;
};

Error no_record(const std::string& place) {
    return {Fault::bad_input, "carries no record of a judged order", place,
            "Give the folder that holds order.toml, or a PDF report written by this program"};
}

Result<Material> judged_material(const std::string& folder, Instant now, const Progress& progress) {
    const auto files = folder_files(folder);
    auto judged = judge_order(*files, now, progress, {}, {}, full_depth);
    if (!judged) return judged.error();
    auto input = report_input(*files, std::move(judged).value());
    if (!input) return input.error();
    return Material{std::move(input->attachments), "", {}, {}, ""};
}

Result<Material> reported_material(const std::string& path) {
    auto pdf = read_whole(path, ledger::largest_segment);
    if (!pdf) return pdf.error();
    auto verified = verify(*pdf);
    if (!verified) {
        Error error = verified.error();
        error.where = path;
        return error;
    }
    auto files = report::attachments_of_pdf(*pdf);
    if (!files) return files.error();
    return Material{std::move(files).value(), std::move(pdf).value(), std::move(verified).value(), {}, ""};
}

Result<Material> material_at(const std::string& place, Instant now, const Progress& progress) {
    std::error_code none;
    return std::filesystem::is_regular_file(place, none) ? reported_material(place)
                                                         : judged_material(place, now, progress);
}

/// Finds the record among the files. Errors: there is none; it is not one to keep.
Result<Done> read_record(Material& material, const std::string& place) {
    const auto record = std::ranges::find(material.files, "record.json", &report::Attachment::name);
    if (record == material.files.end()) return no_record(place);
    material.record = json::parse(record->bytes, nullptr, false);
    material.record_sha256 = sha256_hex(record->bytes);
    if (!material.record.is_object() || material.record.value("schema", json()) != "ebbtide.record/1")
        return no_record(place);
    if (!material.record.value("terms", json()).is_null())
        return Error{Fault::bad_input, "was made under other terms than the order's, and was not issued",
                     place, "Keep what was made under the agreed terms"};
    return Done{};
}

/// Records differ when anything but the time of judging does.
bool same_but_for_time(json a, json b) {
    for (json* record : {&a, &b})
        if (record->is_object()) record->erase("made");
    return a == b;
}

/// One addition on its way: what every entry of it has in common.
class Adding {
  public:
    Adding(Database& ledger, const LedgerAddition& addition, Instant now)
        : ledger_(ledger), addition_(addition), now_(now) {}

    Result<ledger::Entry> put(Draft draft) {
        draft.who = addition_.who;
        draft.why = addition_.why;
        return ledger::put_unless_there(ledger_, draft, now_);
    }
    Result<Done> put_all(const std::vector<Draft>& drafts) {
        for (const Draft& draft : drafts)
            if (const auto entry = put(draft); !entry) return entry.error();
        return Done{};
    }
    Result<Done> put_segments(const Material& material) {
        for (const report::Attachment& file : material.files)
            if (const auto kept = ledger::put_segment(ledger_, file.bytes, now_); !kept) return kept.error();
        return Done{};
    }

    /// What the order only cites: people, certificates, bench checks. An older version kept none of them
    /// beside what it kept of the order.
    Result<Done> put_cited(const RecordDrafts& drafts, const Material& material) {
        for (const Draft& person : drafts.people) {
            // Whoever is there already may have initials, which an order does not state.
            const auto there = ledger::newest(ledger_, Kind::person, person.id);
            if (!there) return there.error();
            if (*there && !(*there)->voided) continue;
            if (const auto entry = put(person); !entry) return entry.error();
        }
        if (auto put = put_all(drafts.calibrations); !put) return put;
        for (const json& input : material.record.at("inputs")) {
            if (text_at(input, "/role") != "bench_check") continue;
            const std::string name = text_at(input, "/name");
            const auto file = std::ranges::find(material.files, name, &report::Attachment::name);
            if (file == material.files.end()) continue;
            auto draft = check_draft(file->bytes, name);
            if (!draft) return draft.error();
            draft->who = addition_.who;
            draft->why = addition_.why;
            const auto there = ledger::newest(ledger_, Kind::bench_check, draft->id);
            if (!there) return there.error();
            if (*there && (*there)->voided) continue;  // an order that cites it puts back nothing
            if (const auto entry = put_check(ledger_, *draft, now_); !entry) return entry.error();
        }
        return Done{};
    }

    /// The newest statement when it says what this record says, and no run that it rests on is withdrawn.
    Result<std::optional<ledger::Entry>> said_already(const RecordDrafts& drafts, const Material& material) {
        for (const Draft& draft : drafts.runs) {
            const auto run = ledger::newest(ledger_, Kind::run, draft.id);
            if (!run) return run.error();
            if (!*run || (*run)->voided) return std::optional<ledger::Entry>();
        }
        auto newest = ledger::newest(ledger_, Kind::statement, drafts.order);
        if (!newest) return newest.error();
        if (!*newest || (*newest)->voided) return std::optional<ledger::Entry>();
        const json statement = json::parse((*newest)->body, nullptr, false);
        const auto record = ledger::segment(ledger_, statement.value("record", std::string()));
        if (!record) return record.error();
        if (same_but_for_time(json::parse(*record, nullptr, false), material.record)) return newest;
        return std::optional<ledger::Entry>();
    }

    /// Runs of the order that its new revision does not have any more.
    Result<std::int64_t> withdraw_others(const RecordDrafts& drafts) {
        const auto standing = standing_runs(ledger_, drafts.order);
        if (!standing) return standing.error();
        std::set<std::string> stay;
        for (const Draft& run : drafts.runs) stay.insert(run.id);
        std::int64_t withdrawn = 0;
        for (const ledger::Entry& run : *standing) {
            if (stay.contains(run.id)) continue;
            const auto entry = ledger::put_entry(
                ledger_, {Kind::run, run.id, "null", addition_.who, addition_.why, true}, now_);
            if (!entry) return entry.error();
            ++withdrawn;
        }
        return withdrawn;
    }

    /// Nothing to do where the very report is kept for the statement, with the same differences found in it.
    Result<Done> put_report(const Material& material, const ledger::Entry& statement) {
        const std::string& order = statement.id;
        const auto sha256 = ledger::put_segment(ledger_, material.pdf, now_);
        if (!sha256) return sha256.error();
        const auto& verified = material.verified;
        const json differences = verified ? json(verified->differences) : json::array();
        const auto newest = ledger::newest(ledger_, Kind::report, order);
        if (!newest) return newest.error();
        if (*newest && !(*newest)->voided && (*newest)->number > statement.number) {
            const json kept = json::parse((*newest)->body, nullptr, false);
            if (kept.value("sha256", json()) == *sha256 && kept.value("differences", json()) == differences)
                return Done{};
        }
        const auto body =
            ledger::canonical_line({{"order", order},
                                    {"order_revision", material.record.at("order").at("revision")},
                                    {"sha256", *sha256},
                                    {"bytes", material.pdf.size()},
                                    {"record", material.record_sha256},
                                    {"compared", verified ? json(verified->figures_compared) : json()},
                                    {"differences", differences}});
        if (!body) return body.error();
        const auto entry = ledger::put_entry(
            ledger_, {Kind::report, order, *body, addition_.who, addition_.why, false}, now_);
        if (!entry) return entry.error();
        return Done{};
    }

  private:
    Database& ledger_;
    const LedgerAddition& addition_;
    Instant now_;
};

Result<std::int64_t> count(Database& ledger, const char* table) {
    const auto rows = ledger.number(fmt::format("SELECT count(*) FROM {}", table));
    if (!rows) return rows.error();
    return rows->value_or(0);
}

/// Within a Writing; all but the counts of the answer.
Result<LedgerAdded> add_all(Adding& adding, const Material& material, const RecordDrafts& drafts) {
    LedgerAdded added;
    added.order = drafts.order;
    const auto said = adding.said_already(drafts, material);
    if (!said) return said.error();
    if (const auto put = adding.put_cited(drafts, material); !put) return put.error();
    std::optional<ledger::Entry> statement = *said;
    if (!statement) {
        if (const auto kept = adding.put_segments(material); !kept) return kept.error();
        if (const auto put = adding.put_all(drafts.documents); !put) return put.error();
        if (const auto put = adding.put_all(drafts.runs); !put) return put.error();
        const auto withdrawn = adding.withdraw_others(drafts);
        if (!withdrawn) return withdrawn.error();
        added.withdrawn = *withdrawn;
        auto put = adding.put(drafts.statement);
        if (!put) return put.error();
        statement = std::move(put).value();
    }
    added.revision = statement->revision;
    if (!material.pdf.empty())
        if (const auto put = adding.put_report(material, *statement); !put) return put.error();
    return added;
}

Result<LedgerAdded> keep(Database& ledger, Material material, const LedgerAddition& addition, Instant now) {
    if (const auto read = read_record(material, addition.place); !read) return read.error();
    std::set<std::string> kept;
    for (const report::Attachment& file : material.files) kept.insert(sha256_hex(file.bytes));
    const auto drafts = drafts_of(material.record, material.record_sha256, kept);
    if (!drafts) return drafts.error();

    auto writing = ledger::Writing::begin(ledger);
    if (!writing) return writing.error();
    const auto before = ledger::head(ledger);
    if (!before) return before.error();
    const auto segments_before = count(ledger, "segment");
    if (!segments_before) return segments_before.error();
    Adding adding(ledger, addition, now);
    auto added = add_all(adding, material, *drafts);
    if (!added) return added.error();
    const auto segments = count(ledger, "segment");
    if (!segments) return segments.error();
    const auto head = ledger::head(ledger);
    if (!head) return head.error();
    added->segments = *segments - *segments_before;
    added->entries = head->number - before->number - added->segments;
    added->head = *head;
    added->statement = material.record.at("judgement").at("statement").get<std::string>();
    if (material.verified) added->differences = material.verified->differences;
    const auto done = writing->commit();
    if (!done) return done.error();
    return added;
}

}  // namespace

Result<LedgerAdded> add_to_ledger(Database& ledger, const LedgerAddition& addition, Instant now,
                                  const Progress& progress) {
    auto material = material_at(addition.place, now, progress);
    if (!material) return material.error();
    return keep(ledger, std::move(material).value(), addition, now);
}

Result<LedgerAdded> keep_judged(Database& ledger, JudgedToKeep judged, const LedgerAddition& addition,
                                Instant now) {
    return keep(ledger, {std::move(judged.files), std::move(judged.pdf), {}, {}, ""}, addition, now);
}

}  // namespace ebbtide::work
