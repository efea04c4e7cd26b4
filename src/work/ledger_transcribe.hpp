#pragma once
// Decay times that were copied by hand, into the ledger and out again: kept apart from runs, without a trace,
// never judged.

#include <nlohmann/json_fwd.hpp>
#include <string>
#include <vector>

#include "ledger/audit.hpp"
#include "ledger/find.hpp"

namespace ebbtide::work {

struct Transcription {
    std::string file;  ///< path of the table
    std::string who;   ///< who copied it
    std::string why;   ///< where from
};

struct Transcribed {
    std::string file;          ///< id that all its rows begin with
    std::int64_t rows = 0;     ///< of the table
    std::int64_t written = 0;  ///< of them; fewer when the file was there
    ledger::Link head;
};

/// All rows or none, and the file itself as a segment. Errors: no who or why; those of
/// read_transcript_table(); a row was withdrawn; what Writing says.
[[nodiscard]] Result<Transcribed> transcribe(ledger::Database& ledger, const Transcription& transcription,
                                             Instant now);

/// Withdraws all rows of a file; `file` is its id or the beginning of its SHA-256. Returns how many. Errors:
/// no who or why; no such file; withdrawn already.
[[nodiscard]] Result<std::int64_t> withdraw_transcript(ledger::Database& ledger, const std::string& file,
                                                       const std::string& who, const std::string& why,
                                                       Instant now);

/// ebbtide.ledger-transcripts/1, docs/formats/ledger.md: the transcribed times that answer all that is asked,
/// the newest tests first. Error: something is asked that only orders have (an order, a statement, a
/// specification, a bench).
[[nodiscard]] Result<nlohmann::json> transcripts(ledger::Database& ledger, const ledger::Query& query);

}  // namespace ebbtide::work
