#pragma once
// From the record of a judged order to what a ledger keeps of it: docs/formats/ledger.md, "Kinds and their
// bodies".

#include <initializer_list>
#include <nlohmann/json_fwd.hpp>
#include <set>
#include <string>
#include <vector>

#include "ledger/entries.hpp"

namespace ebbtide::work {

/// Drafts in the order in which they are written.
struct RecordDrafts {
    std::string order;  ///< id
    std::vector<ledger::Draft> people, calibrations;
    std::vector<ledger::Draft> documents;  ///< method, specification, bench, the order itself
    std::vector<ledger::Draft> runs;
    ledger::Draft statement;
};

/// `record` is ebbtide.record/1, kept as the segment `record_sha256`; `kept` are the hashes of all files that
/// are segments. Error: the record lacks something, or a text in it is none that a ledger takes.
[[nodiscard]] Result<RecordDrafts> drafts_of(const nlohmann::json& record, const std::string& record_sha256,
                                             const std::set<std::string>& kept);

/// The runs of an order that are not withdrawn; another order's id may begin with this one's and a stroke.
[[nodiscard]] Result<std::vector<ledger::Entry>> standing_runs(ledger::Database& ledger,
                                                               const std::string& order);

/// Some members of an object, as an object. One that is not there is a broken invariant and throws.
[[nodiscard]] nlohmann::json part_of(const nlohmann::json& object, std::initializer_list<const char*> keys);

/// The text at a JSON pointer; empty where there is none. Of documents that anybody may have written.
[[nodiscard]] std::string text_at(const nlohmann::json& document, const char* pointer);

}  // namespace ebbtide::work
