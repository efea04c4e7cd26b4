#pragma once
// The record of an order as judged: immutable once made, and complete, so that every figure can be derived
// again.

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "basis/instant.hpp"
#include "judge/judgement.hpp"
#include "plan/bench.hpp"
#include "plan/method.hpp"
#include "plan/order.hpp"
#include "plan/specification.hpp"
#include "plan/terms.hpp"
#include "trace/channel.hpp"

namespace ebbtide::record {

/// A file that the record rests on.
struct InputFile {
    std::string role;  ///< "order", "method", "specification", "bench", "live", "recording", "terms",
                       ///< "replaced_report"
    std::string name;  ///< relative to the order's folder; shipped ones as "methods/NAME.toml"
    std::string sha256;
    std::uint64_t bytes = 0;
};

struct RecordingRecord {
    std::string file;
    std::string sha256;  ///< the recording's id
    std::uint64_t bytes = 0;
    std::string format;
    std::string dialect;
    std::vector<trace::ChannelDescription> channels;
    std::vector<trace::Notice> notices;
    std::vector<std::string> runs;  ///< ids of the runs cut from it, in order
    bool kept_by_runs = false;      ///< too large to keep whole: only its runs are kept
};

struct OrderRecord {
    std::string engine_version;
    std::string settings_hash;  ///< SHA-256 of method, specification, bench and order as understood
    Instant made;
    plan::Order order;
    plan::Method method;
    plan::Specification specification;
    std::optional<plan::Bench> bench;
    plan::Terms terms;  ///< other than the order's own; mostly none
    std::vector<std::string>
        amended;  ///< what differs from the report that this one replaces, found by comparing
    std::vector<InputFile> inputs;
    std::vector<RecordingRecord> recordings;
    judge::Judgement judgement;
};

}  // namespace ebbtide::record
