#pragma once
// Invented orders and runs, just complete enough for a ledger.

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>
#include <random>
#include <string>

#include "ledger/canonical.hpp"
#include "ledger/check.hpp"
#include "ledger/entries.hpp"
#include "ledger/migrations.hpp"
#include "ledger/segments.hpp"
#include "support/program.hpp"

namespace ebbtide::testing_support {

/// The value, or a failed test and an exception that ends it.
template <class T>
T got(Result<T> result) {
    if (!result) throw std::runtime_error(result.error().text());
    return std::move(result).value();
}

/// 2026-11-25T12:00:00Z and `seconds` later.
inline Instant noon(double seconds = 0) {
    return parse_instant("2026-11-25T12:00:00Z").value() + Span::from_seconds(seconds);
}

/// Bytes that do not pack.
inline std::string noise(std::size_t size, std::uint64_t seed) {
    std::mt19937_64 random(seed);
    std::string bytes(size, '\0');
    for (char& c : bytes) c = static_cast<char>(random());
    return bytes;
}

struct InventedOrder {
    std::string id = "TP-1", customer = "Ropewalk Cloth Mill", material = "Halyard cloth", lot = "Roll 7";
    std::string statement = "pass", method = "house-method", specification = "house-specification";
    std::string from = "2026-09-15", to = "2026-09-18", bench = "B1";
    std::vector<std::string> checks = {};  ///< names of their files, without ending
};

inline ledger::Draft statement_of(const InventedOrder& order) {
    nlohmann::json files = nlohmann::json::array();
    for (const std::string& check : order.checks)
        files.push_back({{"role", "bench_check"}, {"name", "checks/" + check + ".json"}});
    const nlohmann::json body = {
        {"order", order.id},
        {"order_revision", 1},
        {"files", files},
        {"customer", order.customer},
        {"items", {{{"id", "C1"}, {"description", order.material}, {"lot", order.lot}}}},
        {"method", {{"id", order.method}, {"edition", "1"}}},
        {"specification", {{"id", order.specification}, {"edition", "2"}}},
        {"bench", {{"id", order.bench}, {"revision", "A"}}},
        {"statement", order.statement},
        {"tested_from", order.from},
        {"tested_to", order.to},
        {"issued", nullptr},
        {"runs", {order.id + "/1"}}};
    return {ledger::Kind::statement, order.id, ledger::canonical_line(body).value(), "", "", false};
}

inline ledger::Draft run_of(const std::string& order, const std::string& run, double decay_s = 0.412) {
    const nlohmann::json level = {{"level", 0.1},        {"level_kind", "fraction"}, {"status", "measured"},
                                  {"decay_s", decay_s},  {"u_decay_s", 0.021},       {"at_least_s", nullptr},
                                  {"at_most_s", nullptr}};
    const nlohmann::json body = {{"order", order},  {"item", "C1"},
                                 {"run", run},      {"specimen", "W1"},
                                 {"face", "front"}, {"conditions", "dry"},
                                 {"polarity", "+"}, {"replicate", 1},
                                 {"counts", true},  {"figures", {{"levels", {level}}}}};
    return {ledger::Kind::run, order + "/" + run, ledger::canonical_line(body).value(), "", "", false};
}

/// A decay time copied by hand from row `row` of a file.
inline ledger::Draft transcript_of(const std::string& file, int row, double decay_s,
                                   const InventedOrder& of = {}) {
    const nlohmann::json body = {
        {"material", of.material},
        {"lot", of.lot},
        {"customer", of.customer},
        {"method", of.method},
        {"specimen", "W1"},
        {"tested", of.to},
        {"polarity", "+"},
        {"face", ""},
        {"level", 0.1},
        {"level_kind", "fraction"},
        {"decay_s", decay_s},
        {"u_decay_s", nullptr},
        {"note", ""},
        {"source", {{"file", file}, {"sha256", std::string(64, '0')}, {"row", row}}}};
    return {ledger::Kind::transcript,
            fmt::format("{}/{}", file, row),
            ledger::canonical_line(body).value(),
            "",
            "",
            false};
}

/// A bench check, or with the kind "override" a leave to work without a good one.
inline ledger::Draft check_of(const std::string& kind, const std::string& ended,
                              const std::string& bench = "B1") {
    const nlohmann::json body = {{"bench", bench},
                                 {"bench_revision", "A"},
                                 {"kind", kind},
                                 {"ended", ended},
                                 {"outcome", kind == "override" ? "none" : "good"}};
    return {ledger::Kind::bench_check,
            fmt::format("{}/{}-{}", bench, kind, ended),
            ledger::canonical_line(body).value(),
            "",
            "",
            false};
}

inline ledger::Draft person(const std::string& name) {
    return {ledger::Kind::person, name, ledger::canonical_line({{"name", name}}).value(), "", "", false};
}

/// A new ledger in a folder of its own.
class InventedLedger : public ::testing::Test {
  protected:
    [[nodiscard]] std::string path() const { return folder_ / "lab.ledger"; }

    /// Writes a draft by itself.
    Result<ledger::Entry> put(const ledger::Draft& draft, Instant at = noon()) {
        auto writing = ledger::Writing::begin(database_);
        if (!writing) return writing.error();
        auto entry = ledger::put_entry(database_, draft, at);
        if (!entry) return entry;
        const auto done = writing->commit();
        if (!done) return done.error();
        return entry;
    }
    std::string keep(std::string_view bytes, Instant at = noon()) {
        auto writing = got(ledger::Writing::begin(database_));
        std::string sha256 = got(ledger::put_segment(database_, bytes, at));
        got(writing.commit());
        return sha256;
    }
    /// An order with two runs and two recordings.
    void fill(const InventedOrder& order = {}) {
        keep("time,voltage\n0,1\n" + order.id);
        keep(order.id + std::string(20'000, '7'));
        got(put(run_of(order.id, "1")));
        got(put(run_of(order.id, "2", 0.398)));
        got(put(statement_of(order)));
    }
    [[nodiscard]] std::string damages() {
        std::string text;
        for (const ledger::Damage& damage : got(ledger::check(database_)).damages)
            text += damage.what + ". " + damage.advice + "\n";
        return text;
    }
    TemporaryFolder folder_;
    ledger::Database database_ = got(ledger::create_ledger(path()));
};

}  // namespace ebbtide::testing_support
