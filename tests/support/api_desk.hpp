#pragma once
// The API over copies of the example orders, without a socket.

#include <chrono>
#include <cstdlib>
#include <filesystem>
#include <initializer_list>
#include <map>
#include <memory>
#include <set>

#include "server/api.hpp"
#include "support/program.hpp"

namespace ebbtide::testing_support {

/// Names, sizes and times of last change of all that lies in a folder.
inline std::map<std::string, std::pair<std::uintmax_t, std::filesystem::file_time_type>> stand_of(
    const std::string& folder) {
    std::map<std::string, std::pair<std::uintmax_t, std::filesystem::file_time_type>> out;
    for (const auto& entry : std::filesystem::recursive_directory_iterator(folder))
        out[entry.path().string()] = {
            entry.is_regular_file() ? entry.file_size() : 0,
            entry.is_regular_file() ? entry.last_write_time() : std::filesystem::file_time_type{}};
    return out;
}

/// As if nothing in the folder had been changed for an hour: what was judged is held from then on.
inline void let_settle(const std::string& folder) {
    const auto long_ago = std::filesystem::file_time_type::clock::now() - std::chrono::hours(1);
    for (const auto& entry : std::filesystem::recursive_directory_iterator(folder))
        std::filesystem::last_write_time(entry.path(), long_ago);
}

/// A query value as it stands in an address.
using Query = std::map<std::string, std::string>;

/// Leaves of an order's recordings only those with these names.
inline void keep_recordings(const std::string& order_file, const std::set<std::string>& names) {
    const std::string table = "[[recording]]\nfile = \"recordings/", text = bytes_of(order_file);
    std::size_t at = text.find(table);
    std::string kept = text.substr(0, at);
    for (std::size_t next; at != std::string::npos; at = next) {
        next = text.find(table, at + 1);
        const std::string one = text.substr(at, next == std::string::npos ? next : next - at);
        if (names.contains(one.substr(table.size(), one.find(".csv") - table.size()))) kept += one;
    }
    write_bytes(order_file, kept);
}

/// How many recordings the example orders of a desk have.
enum class DeskRuns {
    few,  ///< one of each kind: judging takes up to half a second a run. All of them where EBBTIDE_LONG is
          ///< set
    all
};

/// Copies of the example orders, and who answers over them.
struct DeskStand {
    explicit DeskStand(DeskRuns runs = DeskRuns::few) {
        for (const char* order : {"halyard-cloth", "film-insulator", "awning-live", "bench-faults"})
            std::filesystem::copy(std::string(EBBTIDE_SOURCE_DIR "/examples/") + order, folder / order,
                                  std::filesystem::copy_options::recursive);
        if (runs == DeskRuns::few && !std::getenv("EBBTIDE_LONG")) {
            keep_recordings(folder / "halyard-cloth/order.toml", {"W1", "W2", "F2"});  // F2 holds a retest
            keep_recordings(folder / "film-insulator/order.toml",
                            {"N1-positive-1", "N1-negative-1", "P1-positive-1", "P1-negative-1",
                             "K1-positive-1", "K1-negative-1"});
            keep_recordings(folder / "bench-faults/order.toml", {"sound", "interlock-opens", "relay-bounces",
                                                                 "forgotten-resistor", "no-charge-taken"});
        }
        let_settle(folder.path());
        open("", {});
    }
    void open(const std::string& ledger, server::BenchSide bench) {
        api = std::make_unique<server::Api>(
            server::Desk{folder.path(), ledger, "", "", "TO", [this] { return now; }}, std::move(bench));
    }
    /// A new ledger that holds these orders.
    std::string ledger_with(std::initializer_list<const char*> orders) {
        const std::string ledger = ledgers / "ledger.ebbl";
        EXPECT_EQ(run({"ledger", "init", "--ledger", ledger}).exit, 0);
        for (const char* key : orders)
            EXPECT_EQ(run({"ledger", "add", folder / key, "--ledger", ledger, "--who", "TO"}).exit, 0);
        return ledger;
    }

    TemporaryFolder folder, ledgers;
    Instant now = parse_instant("2026-11-26T09:00:00Z").value();
    std::unique_ptr<server::Api> api;
};

/// A desk of its own for each test.
class ApiDesk : public ::testing::Test {
  protected:
    ApiDesk() : ApiDesk(std::make_shared<DeskStand>()) {}
    explicit ApiDesk(std::shared_ptr<DeskStand> stand)
        : stand_(std::move(stand)), folder_(stand_->folder), api_(stand_->api) {}

    /// Anew, with the ledger if there is one.
    void open(const std::string& ledger = "", server::BenchSide bench = {}) {
        stand_->open(ledger, std::move(bench));
    }
    std::string ledger_with(std::initializer_list<const char*> orders) { return stand_->ledger_with(orders); }
    [[nodiscard]] std::string path(const std::string& name) const { return folder_ / name; }

    server::Reply get(const std::string& path, const Query& query = {}) {
        return api_->answer({"GET", path, query, "", ""});
    }
    server::Reply post(const std::string& path, const nlohmann::json& body, const Query& query = {}) {
        return api_->answer({"POST", path, query, body.dump(), "application/json"});
    }
    server::Reply post_bytes(const std::string& path, const std::string& bytes, const Query& query) {
        return api_->answer({"POST", path, query, bytes, "application/octet-stream"});
    }
    /// An answer that must be good.
    nlohmann::json good(const server::Reply& reply, int status = 200) {
        EXPECT_EQ(reply.status, status) << reply.body.substr(0, 400);
        EXPECT_EQ(reply.type, "application/json");
        auto document = nlohmann::json::parse(reply.body, nullptr, false);
        EXPECT_FALSE(document.is_discarded()) << reply.body.substr(0, 400);
        return document;
    }
    nlohmann::json got(const std::string& path, const Query& query = {}) { return good(get(path, query)); }
    /// An answer that says what is wrong and what to do.
    nlohmann::json bad(const server::Reply& reply, int status) {
        const auto document = good(reply, status);
        EXPECT_EQ(document.value("schema", ""), "ebbtide.error/1");
        EXPECT_NE(document.value("what", ""), "");
        return document;
    }
    /// Ids of the runs of an order.
    std::vector<std::string> runs_of(const std::string& key) {
        std::vector<std::string> ids;
        const nlohmann::json order = got("/api/orders/" + key);
        if (order["judgement"].is_null()) return ids;  // nothing is recorded yet
        for (const auto& run : order["judgement"]["runs"])
            if (run["run"].is_string()) ids.push_back(run["run"]);
        return ids;
    }

  private:
    std::shared_ptr<DeskStand> stand_;

  protected:
    const TemporaryFolder& folder_;
    const std::unique_ptr<server::Api>& api_;
};

/// One desk for all tests that leave its orders as they are: each order is judged once, which takes seconds.
/// Its ledger holds the shortest of them.
class JudgedDesk : public ApiDesk {
  protected:
    JudgedDesk() : ApiDesk(the_stand()) {}

  private:
    static std::shared_ptr<DeskStand> the_stand() {
        static const auto stand = [] {
            auto one = std::make_shared<DeskStand>();
            one->open(one->ledger_with({"bench-faults"}), {});
            return one;
        }();
        return stand;
    }
};

/// What is sent to take an order in.
inline nlohmann::json an_intake() {
    return {{"key", "deck-canvas"},
            {"id", "TP-2026-1201"},
            {"title", "Deck canvas, decay of charge"},
            {"like", "awning-live"},
            {"customer",
             {{"name", "Quayside Awnings"}, {"address", "9 Quayside, Tern Point"}, {"contact", "M. Harrow"}}},
            {"method", {{"file", "sheet-goods-house-method"}}},
            {"specification", {{"file", "sheet-goods-house-specification"}, {"edition", "1"}}},
            {"decision_rule",
             {{"kind", "guarded"}, {"guard_times_U", 0.83}, {"agreed", "Both, by letter of 2026-11-25"}}},
            {"dates",
             {{"received", "2026-11-25"},
              {"due", "2026-12-04"},
              {"tested_from", "2026-11-27"},
              {"tested_to", "2026-11-28"}}},
            {"people", {{"tested_by", "T. Okafor"}}},
            {"sampling", {{"by", "The customer"}, {"plan", "Three places across the roll"}}},
            {"items",
             {{{"id", "S"},
               {"description", "Deck canvas, 0.6 mm"},
               {"lot", "Roll 8"},
               {"condition_on_receipt", "Clean, rolled"},
               {"sensitivity", {{"humidity_percent_per_decade", 14}, {"source", "from memory"}}}}}},
            {"specimens",
             {{{"id", "D1"}, {"item", "S"}, {"place", "left edge"}, {"state", "as received"}},
              {{"id", "D2"}, {"item", "S"}, {"direction", "warp"}, {"state", "washed 5 times"}}}},
            {"conditions",
             {{{"id", "dry"},
               {"relative_humidity_percent", 12},
               {"temperature_C", 23},
               {"conditioned_from", "2026-11-25T08:00:00Z"},
               {"conditioned_to", "2026-11-27T08:00:00Z"}}}},
            {"deviations", {"None"}}};
}

}  // namespace ebbtide::testing_support
