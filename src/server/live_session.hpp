#pragma once
// What goes on at the bench: at most one order that is driven, or one bench check, on a thread of its own. It
// asks, and whoever watches answers. Nobody has to watch: closing every page stops nothing, abort() does.

#include <atomic>
#include <condition_variable>
#include <cstdint>
#include <functional>
#include <mutex>
#include <optional>
#include <string>
#include <thread>
#include <vector>

#include <nlohmann/json.hpp>

#include "basis/instant.hpp"
#include "basis/result.hpp"
#include "bench/simulated_bench.hpp"
#include "record/order_record.hpp"
#include "server/live_feed.hpp"
#include "work/bench_at_hand.hpp"
#include "work/drive_plan.hpp"
#include "work/person.hpp"

namespace ebbtide::server {

/// What stands for the bench.
struct BenchStand {
    std::string simulated;  ///< file of a simulation; empty: there is none
    bench::Pace pace = bench::Pace::real;
    std::optional<std::uint64_t> seed = {};  ///< none: the simulation's
};

struct OrderStart {
    std::string key;     ///< of the order, as the page calls it
    std::string folder;  ///< the order's
    std::string ledger = {}, who = {};
    std::string conditions = {};  ///< that hold today; may be empty where the order has one
    std::string override_ = {};   ///< why work starts without a good bench check
    work::Sequence sequence = work::Sequence::planned;
    std::uint64_t seed = 1;  ///< of a randomised sequence
};

struct CheckStart {
    std::string key, folder;  ///< of the order whose bench is checked
    std::string who = {};
    bool closing = false;
};

/// Any number of threads. Errors that say `inconsistent`: what goes on, or what lies on the disk, does not
/// allow it now.
class LiveSession {
  public:
    LiveSession(LiveFeed& feed, BenchStand stand, std::function<Instant()> now);
    /// abort(), and waits until the bench was switched off and earthed.
    ~LiveSession();
    LiveSession(const LiveSession&) = delete;
    LiveSession& operator=(const LiveSession&) = delete;

    /// Returns when the session has begun. Errors: a session goes on; the documents of the order; no bench;
    /// no good check and no override; conditions not named, or unknown.
    [[nodiscard]] Result<Done> begin(const OrderStart& start);
    /// Errors: a session goes on; the documents of the order; no bench.
    [[nodiscard]] Result<Done> begin(const CheckStart& start);

    /// Of two that answer, the first is heard. Errors: it was answered, or never asked, or asks no more.
    [[nodiscard]] Result<Done> answer(std::uint64_t question, work::Answer answer);
    /// A pause begins before the next run. Taken back, work goes on. Error: nothing goes on.
    [[nodiscard]] Result<Done> pause(bool paused);
    /// Output off at once, from any phase; the session ends. Does nothing where none goes on.
    void abort();

    /// "A session" in docs/formats/page.md; null before the first. Holds at least what the feed's last
    /// number, asked for before, has told.
    [[nodiscard]] nlohmann::json state() const;
    /// Key of the order that is worked on; empty: nothing goes on.
    [[nodiscard]] std::string works_on() const;

  private:
    using Work = std::function<Result<Done>(const std::vector<work::LiveSink>&)>;

    /// What an order brings to the bench.
    struct AtTheBench {
        record::OrderRecord documents;
        plan::Bench about;
    };

    [[nodiscard]] Result<Done> idle() const;
    /// Errors: as begin() says of documents and of a session that goes on.
    [[nodiscard]] Result<AtTheBench> bring(const std::string& folder) const;
    [[nodiscard]] Result<std::shared_ptr<work::BenchAtHand>> open_bench(const plan::Bench& about);
    void launch(const char* kind, const std::string& key, const std::string& who, Work work);
    void take(const work::LiveEvent& event);
    void fold(const nlohmann::json& line);
    work::Answer ask();

    LiveFeed& feed_;
    const BenchStand stand_;
    const std::function<Instant()> now_;

    std::mutex beginning_;  ///< one begins at a time
    mutable std::mutex mutex_;
    std::condition_variable answered_;
    nlohmann::json session_;
    bool running_ = false;
    std::string key_;
    /// Questions count on over all sessions: an answer to one of yesterday's meets none of today's.
    std::uint64_t questions_ = 0, before_ = 0, open_question_ = 0;
    std::optional<work::Answer> answer_;
    bool asks_for_pause_ = false;  ///< the open question stands for a pause
    std::atomic<bool> stop_ = false, pause_ = false;
    std::thread thread_;
};

}  // namespace ebbtide::server
