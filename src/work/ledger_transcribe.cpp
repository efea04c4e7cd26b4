#include "work/ledger_transcribe.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <nlohmann/json.hpp>

#include "basis/sha256.hpp"
#include "ledger/canonical.hpp"
#include "ledger/entries.hpp"
#include "ledger/segments.hpp"
#include "recording/bytes.hpp"
#include "recording/headings.hpp"
#include "work/order_files.hpp"
#include "work/transcript_table.hpp"

namespace ebbtide::work {
namespace {

using ledger::Database;
using ledger::Draft;
using ledger::Entry;
using ledger::Kind;
using nlohmann::json;

constexpr std::uint64_t largest_table = 64u << 20;
constexpr std::size_t id_length = 16;  // of the SHA-256

std::optional<Error> nameless(const std::string& who, const std::string& why) {
    for (const auto& [text, option] : {std::pair{&who, "--who"}, std::pair{&why, "--why"}})
        if (text->empty())
            return Error{Fault::bad_input, "is needed: what was copied by hand says by whom and from where",
                         option, "Say --who INITIALS --why TEXT"};
    return {};
}

/// The text of a table, whatever it is encoded in; bytes that are no UTF-8 are taken as Latin-1.
Result<std::string> utf8_of(const std::string& bytes, const std::string& name) {
    auto source = recording::Bytes::of(bytes, name, false);
    std::string text, part(1u << 16, '\0');
    for (std::size_t count = 1; count > 0;) {
        const auto read = source.read(part.data(), part.size());
        if (!read) return read.error();
        count = *read;
        text.append(part, 0, count);
    }
    if (recording::is_utf8(text)) return text;
    std::string latin;
    for (const char c : text) recording::append_utf8(static_cast<unsigned char>(c), latin);
    return latin;
}

Result<std::vector<Draft>> drafts_of(const std::vector<TranscribedTime>& rows, const std::string& file,
                                     const std::string& sha256, const Transcription& by) {
    std::vector<Draft> drafts;
    for (const TranscribedTime& row : rows) {
        const bool fraction = row.level.kind == plan::Level::Kind::fraction;
        const auto body =
            ledger::canonical_line({{"material", row.material},
                                    {"lot", row.lot},
                                    {"customer", row.customer},
                                    {"method", row.method},
                                    {"specimen", row.specimen},
                                    {"tested", row.tested},
                                    {"polarity", row.polarity},
                                    {"face", row.face},
                                    {"level", row.level.value},
                                    {"level_kind", fraction ? "fraction" : "absolute_V"},
                                    {"decay_s", row.decay_s},
                                    {"u_decay_s", row.u_decay_s ? json(*row.u_decay_s) : json()},
                                    {"note", row.note},
                                    {"source", {{"file", file}, {"sha256", sha256}, {"row", row.row}}}});
        if (!body) {
            Error error = body.error();
            error.where = fmt::format("{}:{}, {}", file, row.row, error.where);
            return error;
        }
        drafts.push_back({Kind::transcript, fmt::format("{}/{}", sha256.substr(0, id_length), row.row), *body,
                          by.who, by.why, false});
    }
    return drafts;
}

/// As find() compares: within the text, the letters A to Z without case.
bool holds(const json& body, const char* key, const std::string& asked) {
    return asked.empty() ||
           recording::lowered(body.at(key).get<std::string>()).find(recording::lowered(asked)) !=
               std::string::npos;
}

bool answers(const json& body, const ledger::Query& query) {
    const std::string tested = body.at("tested").get<std::string>();
    return holds(body, "material", query.material) && holds(body, "lot", query.lot) &&
           holds(body, "customer", query.customer) && holds(body, "method", query.method) &&
           (!query.from || tested >= iso_text(*query.from)) && (!query.to || tested <= iso_text(*query.to));
}

}  // namespace

Result<Transcribed> transcribe(Database& ledger, const Transcription& transcription, Instant now) {
    if (const auto fault = nameless(transcription.who, transcription.why)) return *fault;
    const auto bytes = read_whole(transcription.file, largest_table);
    if (!bytes) return bytes.error();
    const auto table = utf8_of(*bytes, transcription.file);
    if (!table) return table.error();
    const auto rows = read_transcript_table(*table, transcription.file);
    if (!rows) return rows.error();
    const std::string sha256 = sha256_hex(*bytes);
    const std::string name = std::filesystem::path(transcription.file).filename().string();
    const auto drafts = drafts_of(*rows, name, sha256, transcription);
    if (!drafts) return drafts.error();

    auto writing = ledger::Writing::begin(ledger);
    if (!writing) return writing.error();
    if (const auto kept = ledger::put_segment(ledger, *bytes, now); !kept) return kept.error();
    const auto before = ledger::head(ledger);
    if (!before) return before.error();
    for (const Draft& draft : *drafts) {
        const auto there = ledger::newest(ledger, Kind::transcript, draft.id);
        if (!there) return there.error();
        // The same file under another name says nothing new.
        if (*there && !(*there)->voided) continue;
        if (const auto put = ledger::put_entry(ledger, draft, now); !put) return put.error();
    }
    const auto head = ledger::head(ledger);
    if (!head) return head.error();
    Transcribed done{sha256.substr(0, id_length), static_cast<std::int64_t>(drafts->size()),
                     head->number - before->number, *head};
    if (const auto committed = writing->commit(); !committed) return committed.error();
    return done;
}

Result<std::int64_t> withdraw_transcript(Database& ledger, const std::string& file, const std::string& who,
                                         const std::string& why, Instant now) {
    if (const auto fault = nameless(who, why)) return *fault;
    auto writing = ledger::Writing::begin(ledger);
    if (!writing) return writing.error();
    const std::string begin = file.substr(0, id_length);
    const auto rows = begin.size() < id_length ? Result<std::vector<Entry>>(std::vector<Entry>())
                                               : ledger::standing(ledger, Kind::transcript, begin + "/");
    if (!rows) return rows.error();
    if (rows->empty())
        return Error{
            Fault::bad_input, fmt::format("has no transcribed file '{}' that stands", file), ledger.path(),
            "'ebbtide ledger find --transcribed' shows them, each by 16 characters before the stroke"};
    for (const Entry& row : *rows) {
        const auto put = ledger::put_entry(ledger, {Kind::transcript, row.id, "null", who, why, true}, now);
        if (!put) return put.error();
    }
    if (const auto committed = writing->commit(); !committed) return committed.error();
    return static_cast<std::int64_t>(rows->size());
}

Result<json> transcripts(Database& ledger, const ledger::Query& query) {
    if (const auto fault = ledger::asked_in_vain(query, {"--material", "--lot", "--customer", "--method"},
                                                 "a transcribed time", "--transcribed"))
        return *fault;
    const auto standing = ledger::standing(ledger, Kind::transcript);
    if (!standing) return standing.error();
    std::vector<json> found;
    for (const Entry& entry : *standing) {
        json body = json::parse(entry.body, nullptr, false);
        if (!body.is_object()) continue;  // 'ledger check' says that it is damaged
        body.update({{"transcript", entry.id},
                     {"revision", entry.revision},
                     {"at", iso_text(entry.at)},
                     {"who", entry.who},
                     {"why", entry.why}});
        try {
            if (answers(body, query)) found.push_back(std::move(body));
        } catch (const json::exception&) {
            return Error{Fault::inconsistent, fmt::format("transcript {} is not whole", entry.id),
                         ledger.path(), "Run 'ebbtide ledger check'"};
        }
    }
    std::ranges::stable_sort(found, [](const json& a, const json& b) { return a["tested"] > b["tested"]; });
    return json{{"schema", "ebbtide.ledger-transcripts/1"}, {"transcripts", std::move(found)}};
}

}  // namespace ebbtide::work
