#pragma once
// What came of a bench check, driven or heard, and its record on the disk. docs/formats/bench-check.md.

#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>
#include <vector>

#include "basis/instant.hpp"
#include "basis/result.hpp"
#include "bench/bench_check.hpp"
#include "plan/bench.hpp"

namespace ebbtide::work {

struct BenchCheckStep {
    bench::CheckStep step;
    std::string file;   ///< recording, beside the record
    std::string words;  ///< why it gave nothing; empty when it was recorded
};

struct BenchCheckAnswer {
    std::string bench, revision;
    bool closing = false, good = false;
    std::string who;
    Instant began, ended;
    std::vector<BenchCheckStep> steps;
    std::vector<bench::CheckFigure> figures;
    std::string reason;                 ///< what it failed on, in words; empty when good
    std::optional<Instant> good_until;  ///< of an opening check
    std::string file;                   ///< of the record; empty in a dry run
    std::string may_be_live;            ///< of a driven one
    std::string source;                 ///< what a heard one was heard by
};

/// "opening-2026-10-06T091503Z": how the files of a check begin.
[[nodiscard]] std::string check_stem(const BenchCheckAnswer& answer);

/// "plate second +"
[[nodiscard]] std::string label_of(const bench::CheckStep& step);

/// The readings against the limits of the bench, and whether it is good. `broken_off` says why it was not
/// made to its end; empty: it was. Broken off, it is not good.
void conclude_check(BenchCheckAnswer& answer, const std::vector<bench::CheckReading>& readings,
                    const plan::Bench& bench, const std::string& broken_off, Instant ended);

/// Writes the record beside the bench file, and into the folder of an order that is to keep a copy (may be
/// empty). Error: they cannot be written.
[[nodiscard]] Result<Done> keep_check_record(BenchCheckAnswer& answer, const std::string& bench_file,
                                             const std::string& order);

/// ebbtide.bench_check/1
[[nodiscard]] nlohmann::json json_of(const BenchCheckAnswer& answer);

}  // namespace ebbtide::work
